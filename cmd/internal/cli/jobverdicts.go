package cli

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"steadyrail/capture"
)

// showVerdicts prints what the rules made of each rail and output, with what a verdict rests
// on besides its readings. A rule that had nothing to judge is left out.
func showVerdicts(out io.Writer, d capture.Dossier) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, r := range d.Rails {
		for _, v := range r.Verdicts {
			if v.Outcome == capture.NoData && (v.Kind != "short" || v.N == 0) { // ohms that are not steady yet say so
				continue
			}
			say := v.Say
			if notes := verdictNotes(v); notes != "" {
				say += " (" + notes + ")"
			}
			fmt.Fprintf(w, "rule\t%s\t%s\t%s\n", r.Rail.Name, v.Kind, say)
		}
	}
	for _, o := range d.Outputs {
		if o.Verdict.Outcome == capture.NoData {
			continue
		}
		name := o.Output
		if len(o.Rails) > 0 {
			name += " (" + strings.Join(o.Rails, ", ") + ")"
		}
		fmt.Fprintf(w, "rule\t%s\t%s\t%s\n", name, o.Verdict.Kind, o.Verdict.Say)
	}
	w.Flush()
}

// probable prints a probability, which is kept to four decimals: one is none.
func probable(p float64) string {
	if p >= 1 {
		return "above 0.9999"
	}
	return strconv.FormatFloat(p, 'g', -1, 64)
}

// verdictNotes says what a verdict rests on besides its readings, the gravest
// first.
func verdictNotes(v capture.Verdict) string {
	var notes []string
	if v.Overdue {
		notes = append(notes, "indicated only: its calibration was overdue")
	} else if v.Indicated {
		notes = append(notes, "indicated only: no accuracy is known for it")
	}
	if v.Uncertainty > 0 && v.Probability > 0 {
		notes = append(notes, "inside with probability "+probable(v.Probability))
	}
	if v.Note != "" {
		notes = append(notes, v.Note)
	}
	if v.Held.Since != 0 {
		notes = append(notes, v.Held.When(time.Local))
	}
	return strings.Join(notes, "; ")
}
