package configs

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers"
)

// channelName is what can stand after the slash of a channel.
var channelName = regexp.MustCompile(`^[a-z][a-z0-9-]{0,31}$`)

// transform reads a temperature that is computed from another channel of the
// same instrument.
func (r *reader) transform(c *drivers.Config, n *yaml.Node, key string) {
	var t drivers.Transform
	lines := r.mapping(n, key, []field{
		{"name", r.channelNamed(&t.Name)},
		{"of", r.channelNamed(&t.Of)},
		{"kind", r.choice(&t.Kind, drivers.TransformKinds()...)},
		{"cold_junction", func(n *yaml.Node, key string) { r.cold(&t, n, key) }},
		{"cold_junction_age", r.span(&t.ColdAge, time.Second, time.Hour)},
		{"cold_junction_within", r.amount(&t.ColdWithin, 0.001, 50, "kelvin, such as 0.5")},
		{"leads", r.amount(&t.Leads, 0, 1000, "ohm of both leads, such as 0.4")},
		{"r0", r.amount(&t.R0, 1, 1e5, "ohm at 0 degrees, such as 100.02")},
		{"r25", r.amount(&t.R25, 1, 1e7, "ohm at 25 degrees, such as 10000")},
		{"beta", r.amount(&t.Beta, 500, 10000, "kelvin, such as 3950")},
		{"a", r.amount(&t.A, -1, 1, "the coefficient A of Steinhart and Hart, such as 1.129148e-3")},
		{"b", r.amount(&t.B, 0, 1, "the coefficient B of Steinhart and Hart, such as 2.34125e-4")},
		{"c", r.amount(&t.C, 0, 1, "the coefficient C of Steinhart and Hart, such as 8.76741e-8")},
		{"tolerance", r.text(&t.Tolerance)},
	})
	for _, must := range []string{"name", "of", "kind"} {
		if lines != nil && lines[must] == 0 {
			r.add(n.Line, join(key, must), transformHints[must], "missing")
		}
	}
	c.Transforms = append(c.Transforms, t)
	if t.ColdChannel != "" {
		r.colds = append(r.colds, coldOf{lines["cold_junction"], join(key, "cold_junction"), t.ColdChannel})
	}
}

var transformHints = map[string]string{
	"name": "a short word for the channel that is added, such as case",
	"of":   "the channel of this instrument that the sensor is on, such as volts or ohms",
	"kind": "the sensor: " + either(drivers.TransformKinds()),
}

// coldOf is where a channel is named as a cold junction: it may stand further
// down in the file.
type coldOf struct {
	line    int
	key     string
	channel capture.ChannelID
}

// checkColds holds the cold junctions against the instruments of the file.
func (r *reader) checkColds() {
	for _, c := range r.colds {
		if r.names[strings.ToLower(c.channel.Instrument())] == 0 {
			r.add(c.line, c.key, "name a channel of an instrument of this file, such as thermo/celsius, or write a temperature", "there is no instrument %q", c.channel.Instrument())
		}
	}
}

func (r *reader) channelNamed(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := r.word(n, key)
		if ok && !channelName.MatchString(s) {
			r.add(n.Line, key, "use small letters, digits and -, at most 32", "%q cannot name a channel", cut(s))
			return
		}
		*into = s
	}
}

// cold reads a temperature in °C, or the channel that measures it.
func (r *reader) cold(t *drivers.Transform, n *yaml.Node, key string) {
	s, ok := r.word(n, key)
	if !ok {
		return
	}
	if instrument, input, is := strings.Cut(s, "/"); is {
		if !instrumentName.MatchString(instrument) || !channelName.MatchString(input) {
			r.add(n.Line, key, "write instrument/channel, such as thermo/celsius", "%q is no channel", cut(s))
			return
		}
		t.ColdChannel = capture.ChannelID(s)
		return
	}
	v := math.NaN()
	if r.amount(&v, -40, 120, "degrees Celsius, such as 23.5, or a channel such as thermo/celsius")(n, key); !math.IsNaN(v) {
		t.Cold = &v
	}
}

// amount reads a number in the base unit, with a point, between least and most.
func (m *mistakes) amount(into *float64, least, most float64, write string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		v, err := strconv.ParseFloat(s, 64)
		switch {
		case err != nil || math.IsNaN(v) || strings.ContainsAny(s, "_xXpP"):
			m.add(n.Line, key, "write "+write, "%q is no figure", cut(s))
		case v < least || v > most:
			m.add(n.Line, key, "write "+write, "%s is not between %g and %g", cut(s), least, most)
		default:
			*into = v
		}
	}
}
