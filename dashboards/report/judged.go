package report

import (
	_ "embed"
	"math"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

//go:embed judged.html
var judgedText string

// judgedRow is a rail's final figure with its budget.
type judgedRow struct {
	Rail, Figure, Meter string
	Span                int // rows of the table
	Parts               []partRow
	Sum, Decision       string
	Notes               []string
}

type partRow struct{ Name, Value, Distribution, Divisor, Standard, Source string }

func (t teller) judged() []judgedRow {
	var out []judgedRow
	for _, j := range t.d.Judged {
		u := j.Quantity.Unit()
		row := judgedRow{
			Rail: named(j.Rail), Figure: fig(u, j.Value, j.Resolution) + ", " + string(j.Stage), Meter: meter(j, u),
			Span: len(j.Parts) + 1, Sum: sumText(j, u), Decision: t.decision(j),
		}
		for _, p := range j.Parts {
			row.Parts = append(row.Parts, partRow{p.Name, twoDigits(u, p.Value), p.Distribution, divisorText(p), twoDigits(u, p.Standard), p.Source})
		}
		for _, n := range judgedNotes(j) {
			row.Notes = append(row.Notes, capital(sentence(n)))
		}
		out = append(out, row)
	}
	return out
}

// meter says who read it, on which range and how often.
func meter(j capture.Judged, u capture.Unit) string {
	out := string(j.Channel)
	if j.Range > 0 {
		out += ", " + fig(u, j.Range, 0) + " range"
	}
	if j.N > 1 {
		out += ", mean of " + whole(j.N) + ", " + whole(int64(j.Effective)) + " of them independent"
	}
	return out
}

// twoDigits prints a part of an uncertainty: no more than two digits of it are
// ever known.
func twoDigits(u capture.Unit, v float64) string {
	if !(v > 0) || math.IsInf(v, 0) {
		return fig(u, 0, 0)
	}
	return fig(u, v, math.Pow10(int(math.Floor(math.Log10(v)))-1))
}

// upward rounds an expanded uncertainty up to two digits (JCGM 100, 7.2.6), as
// beside the figure in the table of rails: the same figure twice must agree.
func upward(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return v
	}
	digit := math.Pow10(int(math.Floor(math.Log10(v))) - 1)
	return math.Ceil(v/digit-1e-6) * digit
}

// divisorText prints a divisor as the books do: "√3".
func divisorText(p capture.Part) string {
	square := p.Divisor * p.Divisor
	switch {
	case square <= 1+1e-9:
		return "1"
	case p.Distribution == "normal":
		return "√" + strconv.FormatFloat(math.Floor(square*10+1e-6)/10, 'f', -1, 64)
	}
	return "√" + strconv.FormatFloat(math.Round(square), 'f', 0, 64)
}

func sumText(j capture.Judged, u capture.Unit) string {
	if j.Indicated {
		return "Indicated only"
	}
	return "u = " + twoDigits(u, j.Standard) + ", k = " + strconv.FormatFloat(j.Coverage, 'f', 2, 64) + ", U = " + twoDigits(u, upward(j.Expanded))
}

// decision names the outcome and how likely the rail conforms.
func (t teller) decision(j capture.Judged) string {
	out := capital(j.Outcome.String())
	if j.Indicated { // without a U nothing passes or fails
		out = "Shown " + shownAs(j.Outcome) + ", not judged with an uncertainty"
	}
	i := slices.IndexFunc(t.d.Rails, func(r capture.RailEvidence) bool { return r.Rail.Name == j.Rail })
	if i >= 0 {
		out += ", band " + bandText(t.d.Rails[i].Rail)
	}
	if j.Overdue {
		out += "; indicated, calibration overdue"
	}
	if j.Indicated || j.Outcome == capture.NoData {
		return out + "."
	}
	out += "; probability of conformance " + chanceText(j.Probability)
	if j.NormalAssumed {
		out += " (normal assumed for scatter and leads)"
	}
	return out + "."
}

// mostWeight is the part of u² from which a component is named: what else is done
// changes little.
const mostWeight = 0.5

// weightAdvice says what would make u smaller.
func weightAdvice(part string) string {
	switch part {
	case "accuracy":
		return ": a better meter or range would help, more readings would not"
	case "scatter":
		return ": more readings would help"
	}
	return ""
}

// shownAs says where a figure lies of which no uncertainty is stated.
func shownAs(o capture.Outcome) string {
	switch o {
	case capture.Pass:
		return "inside"
	case capture.Fail:
		return "outside"
	}
	return "without bounds"
}

// chanceText prints a probability no finer than a U of two digits allows.
func chanceText(p float64) string {
	switch {
	case p > 0.99:
		return "above 99" + nbsp + "%"
	case p < 0.01:
		return "below 1" + nbsp + "%"
	}
	return strconv.FormatFloat(math.Round(100*p), 'f', 0, 64) + nbsp + "%"
}

func judgedNotes(j capture.Judged) []string {
	out := slices.Clone(j.Notes)
	for _, p := range j.Parts {
		if p.Weight >= mostWeight && !j.Indicated {
			out = append(out, p.Name+" makes "+percent(p.Weight)+" of u²"+weightAdvice(p.Name))
		}
	}
	if j.Ambient != nil {
		out = append(out, "room "+fig(capture.Celsius, *j.Ambient, 0.1))
	}
	return out
}

// judgedAloud says below the table of rails what their figures take for
// granted, and where a meter is coarse for its band: each note once, with the
// rails that it is about.
func (t teller) judgedAloud() (out []string) {
	var said []string
	rails := map[string][]string{} // looked up in the order of said
	for _, j := range t.d.Judged {
		for _, n := range j.Notes {
			if j.Indicated {
				continue // told where no uncertainty is stated
			}
			if !slices.Contains(said, n) {
				said = append(said, n)
			}
			rails[n] = append(rails[n], named(j.Rail))
		}
	}
	for _, n := range said {
		out = append(out, capital(t.allRails(strings.Join(rails[n], ", ")))+": "+sentence(n))
	}
	return out
}
