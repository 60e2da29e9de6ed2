package trim

import (
	"math"

	"steadyrail/capture"
)

const (
	// remembered is how many touches the gain is learned from: the track of a
	// trimmer is not even, and the last ones lie nearest.
	remembered = 8
	// turnDoubt is how well a person tells how far the screw went: an eighth of a
	// turn either way, taken as rectangular.
	turnDoubt = 0.125
)

// gain fits volts a turn through the origin: Σtm/Σt². Its standard uncertainty is
// the larger of what the scatter about the line gives and what the doubt in the
// turns and in the steps gives (GUM 5.1.2). A touch that turned back is left out
// when there are others: slack was in it.
func gain(touches []capture.Touch) *capture.TrimGain {
	typed, straight := typedOf(touches)
	if len(straight) > 0 {
		typed = straight
	}
	var tt, tm, mm, doubt float64
	for _, c := range typed {
		tt += float64(c.Turns * c.Turns)
		tm += float64(c.Turns * c.Moved)
		mm += float64(c.Moved * c.Moved)
	}
	if len(typed) == 0 || tt == 0 {
		return nil
	}
	g := tm / tt
	for _, c := range typed {
		ut := float64(g * turnDoubt / math.Sqrt(3))
		doubt += float64(c.Turns * c.Turns * (float64(c.U*c.U) + float64(ut*ut)))
	}
	u := math.Sqrt(doubt) / tt
	if n := len(typed); n > 1 {
		rest := max(0, mm-float64(g*tm))
		u = max(u, math.Sqrt(rest/float64(n-1)/tt))
	}
	return &capture.TrimGain{PerTurn: g, U: u, Touches: len(typed)}
}

// typedOf lists the last touches whose turns were typed, and those of them that
// went on in the way of the touch before. One that moved the wrong way is an
// exchanged sign or an end of the track: the median way of all tells.
func typedOf(touches []capture.Touch) (typed, straight []capture.Touch) {
	for i, c := range touches {
		if c.Turns == 0 {
			continue
		}
		typed = append(typed, c)
		if i > 0 && (touches[i-1].Moved > 0) == (c.Moved > 0) {
			straight = append(straight, c)
		}
	}
	return tail(typed), tail(straight)
}

func tail(list []capture.Touch) []capture.Touch { return list[max(0, len(list)-remembered):] }

// slack is how many turns are lost when the screw turns back: what the reversals
// moved less than the gain promises. It counts only beyond its own doubt.
func slack(touches []capture.Touch, g *capture.TrimGain) float64 {
	if g == nil || g.PerTurn == 0 {
		return 0
	}
	_, straight := typedOf(touches)
	if len(straight) == 0 && !g.Declared {
		return 0 // the gain itself came from reversals
	}
	sum, n := 0.0, 0
	for i, c := range touches {
		if i > 0 && c.Turns != 0 && (touches[i-1].Moved > 0) != (c.Moved > 0) {
			sum += math.Abs(c.Turns) - math.Abs(c.Moved/g.PerTurn)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	lost := sum / float64(n)
	doubt := turnDoubt / math.Sqrt(3*float64(n))
	if lost <= 1.645*doubt {
		return 0
	}
	return lost
}
