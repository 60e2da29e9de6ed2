package report

import (
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

type coverageView struct {
	Rail string
	Say  []string
}

func (t teller) coverage() []coverageView {
	var out []coverageView
	for _, r := range t.d.Rails {
		for _, w := range r.Watches {
			v := coverageView{named(r.Rail.Name), t.watched(w)}
			// Rails that were watched alike are said once.
			if i := slices.IndexFunc(out, func(o coverageView) bool { return slices.Equal(o.Say, v.Say) }); i >= 0 {
				out[i].Rail += ", " + v.Rail
				continue
			}
			out = append(out, v)
		}
	}
	return out
}

// watched says what a record can say, and what it cannot.
func (t teller) watched(w capture.Watch) []string {
	if w.N == 0 {
		return []string{"No reading: this record says nothing about the rail."}
	}
	length := w.To.Sub(w.From)
	looked := "How much of " + span(length) + " the meter looked at is not known, for its aperture is not stated"
	if w.Observed > 0 {
		looked = "The meter looked for " + percent(w.Observed) + " of " + span(length)
		if w.Aperture > 0 {
			looked += " (apertures of " + span(w.Aperture) + ")"
		}
	}
	looked += ": " + count(w.N, "reading", "readings")
	if w.Interval > 0 {
		looked += ", one every " + span(w.Interval)
	}
	say := []string{looked + "."}
	if w.LongestGap > 0 {
		say = append(say, "The longest blind interval was "+span(w.LongestGap)+at(t.short(w.GapAt))+".")
	}
	return append(say, dips(w)...)
}

// dips says which dips could have been missed. Without a length that was sure
// to be seen it says that too.
func dips(w capture.Watch) []string {
	depth := "A dip"
	if w.DipDepth > 0 {
		depth = "A dip of " + strconv.FormatFloat(w.DipDepth*100, 'f', -1, 64) + nbsp + "%"
	}
	var say []string
	if w.SureDip > 0 {
		say = append(say, depth+" was sure to be seen if it lasted "+span(w.SureDip)+" or longer. A shorter one can fall between two readings: this record cannot exclude it.")
	} else {
		say = append(say, "No length of dip was sure to be seen.")
	}
	var parts []string
	for _, c := range w.Chance {
		parts = append(parts, percent(c.Seen)+" for "+span(c.Length))
	}
	if len(parts) > 0 {
		say = append(say, "The chance that a single one was seen: "+strings.Join(parts, ", ")+".")
	}
	return say
}

type soakView struct {
	When    string
	Facts   []pair
	Say     []string
	Verdict verdict
}

func (t teller) soak() *soakView {
	s := t.d.Soak
	if s == nil {
		return nil
	}
	v := &soakView{When: t.between(s.From, s.To), Verdict: judged(capture.Pass, "Passed")}
	if !s.Passed || s.Failures > 0 {
		v.Verdict = judged(capture.Fail, "Not passed")
	}
	planned := "open end"
	if s.Planned > 0 {
		planned = span(s.Planned)
	}
	v.Facts = []pair{{"Planned", planned}, {"Watched", span(s.Watched)}, {"In one piece", pieces(s.Pieces)}, {"Failures", whole(s.Failures)}}
	for _, line := range s.Say {
		v.Say = append(v.Say, sentence(line))
	}
	return v
}

func pieces(n int) string {
	if n <= 1 {
		return "yes"
	}
	return "no, in " + whole(n)
}
