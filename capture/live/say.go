package live

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// plainly says an act without knowing its words.
func plainly(a capture.Act) string {
	var words []string
	for _, w := range []string{string(a.Verb), a.Subject, string(a.Stage), a.Text} {
		if w != "" {
			words = append(words, w)
		}
	}
	return strings.Join(words, " ") + "."
}

func sayTyped(r capture.Reading, p capture.Placement) string {
	how := "Typed"
	if r.Flags.Has(capture.ByEye) {
		how = "Read by eye"
		if meter, _ := r.Channel.ByEyeMeter(); meter != "" {
			how += " from " + meter
		}
	}
	value := "no value"
	if r.Flags.Has(capture.OverRange) {
		value = "over range"
	}
	if r.HasValue() {
		value = r.Quantity.Unit().Text(r.Value, r.Resolution)
	}
	where := p.Rail
	if where == "" {
		where = p.Point
	}
	if where != "" {
		where = " on " + where
	}
	return how + ": " + value + where + "."
}

// sayCorrected says a placement that mends another.
func sayCorrected(old, mended capture.Placement) string {
	where := func(p capture.Placement) string {
		switch {
		case p.Rail != "":
			return p.Rail
		case p.Point != "":
			return p.Point
		}
		return "nothing"
	}
	s := fmt.Sprintf("Corrected: %s was on %s, not on %s", mended.Channel, where(mended), where(old))
	if meter, ok := mended.Channel.ByEyeMeter(); ok {
		what := "the value read by eye"
		if meter != "" {
			what += " from " + meter
		}
		s = fmt.Sprintf("Corrected: %s belongs to %s, not to %s", what, where(mended), where(old))
	}
	if mended.Why != "" {
		s += ": " + mended.Why
	}
	return s + "."
}

func sayGap(g capture.Gap) string {
	s := "The record has a gap"
	if g.To > g.From && g.From != 0 {
		s += " of " + seconds(g.To.Sub(g.From).Seconds())
	}
	if g.Reason != "" {
		s += ": " + g.Reason
	}
	return s + "."
}

// seconds prints a length of time for people: "45 s", "8 min", "6 h 12 min".
func seconds(s float64) string {
	d := time.Duration(s * float64(time.Second))
	h, m := int64(d/time.Hour), int64(d%time.Hour/time.Minute)
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}
