package web

import (
	"fmt"

	"steadyrail/capture"
)

// walkSentence is the news of the page when nobody walks, and its title when
// somebody does.
func (v *view) walkSentence() (say, proof string) {
	w := v.Walk
	switch {
	case !v.HasJob:
		return "No job is open", "A walk goes over the rails of a job."
	case w.Active && w.Rail != "":
		return together(w.Rail) + ": " + w.Word, ""
	case len(w.Rows) == 0:
		return "Walk the rails", fmt.Sprintf("%s, first in volts, then without power in ohms. It files each by itself.", capital(many(len(v.Lanes), "rail")))
	}
	odd := 0
	for _, r := range w.Rows {
		if r.Volts.Odd || r.Ohms.Odd {
			odd++
		}
	}
	say = fmt.Sprintf("%d of %d filed", w.Done, w.Of)
	if odd > 0 {
		return say, capital(many(odd, "rail")) + " out of what is expected."
	}
	return say, w.Note
}

// WalkMeters names the meters that may be walked with.
func (v *view) WalkMeters() []string {
	var out []string
	for _, in := range v.snap.Instruments {
		for _, c := range in.Info.Channels {
			if c.Quantity == capture.Resistance {
				out = append(out, in.Info.Name)
				break
			}
		}
	}
	return out
}

// WalkBoth reports whether ohms were read both ways round.
func (v *view) WalkBoth() bool {
	for _, r := range v.Walk.Rows {
		if r.Reversed.Text != "" || r.Reversed.Why != "" {
			return true
		}
	}
	return false
}
