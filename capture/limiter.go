package capture

import (
	"fmt"
	"strings"
)

// LimiterQuestion asks what a resistor or a lamp in series lets a set do. Base
// units; what is zero was not said.
type LimiterQuestion struct {
	Source, Ohm, LampVolts, LampWatts, Power, Start, Lowest float64
}

// LimiterKeys are the keys of [ParseLimiterQuestion], in the order in which a
// form asks.
var LimiterKeys = []string{"source", "power", "ohms", "lamp", "start_power", "lowest"}

// ParseLimiterQuestion reads a question as texts: source "325 V", power "18 W",
// ohms "120 ohm" or lamp "230 V 60 W", and what may be left out, start_power
// "30 W" and lowest "90 V". The error begins with the key.
func ParseLimiterQuestion(text func(key string) string) (q LimiterQuestion, err error) {
	for _, f := range []struct {
		key  string
		unit Unit
		into *float64
		like string
	}{
		{"source", Volt, &q.Source, "325 V"}, {"power", Watt, &q.Power, "18 W"}, {"ohms", Ohm, &q.Ohm, "120 ohm"},
		{"start_power", Watt, &q.Start, "30 W"}, {"lowest", Volt, &q.Lowest, "90 V"},
	} {
		if err := typedFigure(text(f.key), f.unit, f.into); err != nil {
			return q, fmt.Errorf("%s: %w; write such as %s", f.key, err, f.like)
		}
	}
	return q, q.lamp(text("lamp"))
}

// lamp reads "230 V 60 W", in any order.
func (q *LimiterQuestion) lamp(text string) error {
	if text = strings.TrimSpace(text); text == "" {
		return nil
	}
	for i := range text {
		first, second := text[:i], text[i:]
		var volts, watts float64
		if strings.TrimSpace(first) == "" {
			continue
		}
		if typedFigure(first, Volt, &volts) == nil && typedFigure(second, Watt, &watts) == nil && endsInVolt(strings.TrimSpace(first)) ||
			typedFigure(second, Volt, &volts) == nil && typedFigure(first, Watt, &watts) == nil && endsInVolt(text) {
			q.LampVolts, q.LampWatts = volts, watts
			return nil
		}
	}
	return fmt.Errorf("lamp: %q does not say its volts and watts; write such as 230 V 60 W", text)
}

// typedFigure reads a figure that may be left out.
func typedFigure(text string, u Unit, into *float64) error {
	if text = strings.TrimSpace(text); text == "" {
		return nil
	}
	v, _, err := u.ParseTyped(text, Point)
	if err != nil {
		return err
	}
	if v <= 0 {
		return fmt.Errorf("%q is not above zero", text)
	}
	*into = v
	return nil
}
