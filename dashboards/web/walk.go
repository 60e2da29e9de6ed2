package web

import (
	"fmt"
	"unicode/utf8"

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

// walkLong is from how many letters a rail is written smaller, so that its key stays
// on the screen; walk.js has the same figure.
const walkLong = 16

// WalkLong reports whether the rail that is asked for is written smaller.
func (v *view) WalkLong() bool { return utf8.RuneCountInString(v.Walk.Rail) > walkLong }

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
