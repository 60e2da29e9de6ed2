package configs

import (
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules"
)

// ruleMore is what a rule says of one channel, as written.
type ruleMore struct{ of, low, high string }

// moreOf takes the channel that a rule judges, and bounds of its own.
func (r *reader) moreOf(c *capture.Rule, more ruleMore, lines map[string]int, key string) {
	if more.of != "" {
		r.checkChannel(more.of, lines["of"], join(key, "of"))
		c.Of = capture.ChannelID(more.of)
	}
	if more.low == "" && more.high == "" {
		return
	}
	b := capture.NoBounds()
	low := r.edge(&b.Low, more.low, *c, lines["low"], join(key, "low"))
	if high := r.edge(&b.High, more.high, *c, lines["high"], join(key, "high")); low && high {
		c.Bounds = b
	}
}

// checkChannel refuses what cannot be a channel.
func (r *reader) checkChannel(id string, line int, key string) bool {
	instrument, input, is := strings.Cut(id, "/")
	if is && instrumentName.MatchString(instrument) && input != "" && !strings.ContainsAny(input, " \t") {
		return true
	}
	r.add(line, key, "write instrument/channel, such as thermo/celsius", "%q is no channel", cut(id))
	return false
}

// checkChannels holds the channels of a rule against the instruments of the
// file. A formula is no instrument.
func (r *reader) checkChannels(w writtenRule) {
	list := []struct{ key, id string }{{"of", string(w.rule.Of)}}
	if rules.ChannelAgainst(w.rule) {
		list = append(list, struct{ key, id string }{"against", w.rule.Against})
	}
	for _, c := range list {
		if c.id == "" || !strings.Contains(c.id, "/") && c.key == "of" {
			continue // said where it was read
		}
		line, key := max(w.lines[c.key], w.line), join(w.key, c.key)
		if c.key == "against" && !r.checkChannel(c.id, line, key) {
			continue
		}
		r.checkKnown(capture.ChannelID(c.id), line, key)
	}
}

// checkKnown refuses a channel that nothing here has. Formulas are looked up with
// the rules that judge them.
func (r *reader) checkKnown(id capture.ChannelID, line int, key string) {
	if r.about == nil || id.Instrument() == capture.FormulaInstrument {
		return
	}
	if _, known := r.about(id); !known {
		r.add(line, key, "name a channel of an instrument that is there, such as thermo/celsius", "there is no channel %s", cut(string(id)))
	}
}

// figure reads a limit with or without its unit. Files have a point whatever
// people type. It reports whether there was no mistake.
func (r *reader) figure(into *float64, text string, c capture.Rule, line int, key string) bool {
	if text == "" || c.Kind == "" {
		return true // without a kind nobody knows in what
	}
	m := rules.LimitOf(c.Kind)
	plain := text
	if m.Hourly {
		plain = strings.TrimSpace(strings.TrimSuffix(plain, "/h"))
	}
	units := []capture.Unit{m.Unit}
	if c.Of != "" && m.Unit == capture.Volt {
		units = anyUnit
	}
	v, ok := inUnits(plain, units)
	if kelvin, is := strings.CutSuffix(plain, "K"); !ok && is && m.Kelvin {
		v, ok = inUnits(kelvin, []capture.Unit{capture.One})
	}
	if !ok {
		r.add(line, key, "write a figure with a point in "+m.ASCII()+", such as 4.75 "+m.ASCII(), "%q cannot be read as a limit", cut(text))
		return false
	}
	*into = v
	return true
}

// edge reads a bound of a rule: of the rail in volt, of a channel in whatever
// that measures. It reports whether there was no mistake.
func (r *reader) edge(into *float64, text string, c capture.Rule, line int, key string) bool {
	if text == "" {
		return true
	}
	units, write := []capture.Unit{capture.Volt}, "write a voltage with a point, such as 4.75 V"
	if c.Of != "" {
		units, write = anyUnit, "write a figure with a point in the channel's unit, such as 1.5 A"
	}
	v, ok := inUnits(text, units)
	if !ok {
		r.add(line, key, write, "%q cannot be read as a bound", cut(text))
		return false
	}
	*into = v
	return true
}

// anyUnit lists the units that a channel may have; a bare number is in the base
// unit of any of them.
var anyUnit = []capture.Unit{capture.Volt, capture.Ampere, capture.Ohm, capture.Celsius, capture.Watt, capture.Hertz, capture.Farad, capture.One}

// inUnits reads a figure in the first of the units that fits.
func inUnits(text string, units []capture.Unit) (float64, bool) {
	if strings.Contains(text, ",") {
		return 0, false
	}
	for _, u := range units {
		if v, _, err := u.ParseTyped(strings.TrimSpace(text), capture.Point); err == nil && !math.IsNaN(v) {
			return v, true
		}
	}
	return 0, false
}
