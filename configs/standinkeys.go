package configs

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/rules/standin"
)

func (m *standInReader) need(n *yaml.Node, key string) {
	d := &m.out.Need
	m.mapping(n, key, append(m.needAnswers(d), []field{
		{"load", m.figure(&d.Load, inAmpere)}, {"peak", m.figure(&d.Peak, inAmpere)}, {"least", m.figure(&d.Least, inAmpere)},
		{"in_low", m.figure(&d.InLow, inVolt)}, {"in_high", m.figure(&d.InHigh, inVolt)}, {"ambient", m.figure(&d.Ambient, inCelsius)},
		{"survives", m.figure(&d.Survives, inVolt)}, {"ripple", m.figure(&d.Ripple, inVolt)}, {"dip", m.figure(&d.Dip, inVolt)}, {"recovery", m.figure(&d.Recovery, inSecond)},
		{"board", m.figure(&d.Board, inFarad)}, {"board_esr", m.figure(&d.BoardESR, inOhm)}, {"rise", m.figure(&d.Rise, inSecond)},
		{"source_ohm", m.copper(&d.SourceOhm)}, {"source_max", m.figure(&d.SourceMax, inAmpere)}, {"source_i2t", m.figure(&d.SourceI2t, inI2t)},
		{"return_ohm", m.copper(&d.ReturnOhm)}, {"beside", m.figure(&d.Beside, inHertzOrNone)},
		{"working", m.figure(&d.Working, inVolt)}, {"creepage", m.figure(&d.Creepage, inMetre)},
		{"enable_on", m.figure(&d.EnableOn, inLevel)}, {"enable_off", m.figure(&d.EnableOff, inLevel)},
		{"length", m.figure(&d.Length, inMetre)}, {"width", m.figure(&d.Width, inMetre)}, {"height", m.figure(&d.Height, inMetre)},
	}...))
}

func (m *standInReader) needAnswers(d *standin.Need) []field {
	return []field{
		{"separates", m.answer(&d.Separates)}, {"class", m.choice(&d.Class, separations...)}, {"enable", m.choice(&d.Enable, "high", "low", "none")},
		{"held_up", m.answer(&d.Prebiased)}, {"second_source", m.answer(&d.Parallel)}, {"sense", m.answer(&d.Sense)}, {"power_good", m.answer(&d.Good)},
	}
}

var separations = []string{"functional", "basic", "reinforced"}

// answer reads yes or no.
func (m *standInReader) answer(into *standin.Answer) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		var word string
		m.choice(&word, string(standin.Yes), string(standin.No))(n, key)
		*into = standin.Answer(word)
	}
}

func (m *standInReader) candidate(n *yaml.Node, key string) {
	var c standin.Candidate
	var topology string
	fields := append(m.inside(&c), m.outside(&c)...)
	lines := m.mapping(n, key, append(fields, []field{
		{"name", m.text(&c.Name)},
		{"topology", m.choice(&topology, string(standin.Linear), string(standin.StepDown), string(standin.StepUp), string(standin.Inverting), string(standin.Module))},
		{"in_low", m.figure(&c.InLow, inVolt)}, {"in_high", m.figure(&c.InHigh, inVolt)},
		{"out_low", m.figure(&c.OutLow, inVolt)}, {"out_high", m.figure(&c.OutHigh, inVolt)}, {"dropout", m.figure(&c.Dropout, inVolt)},
		{"current", m.figure(&c.Current, inAmpere)}, {"derate_from", m.figure(&c.DerateFrom, inCelsius)}, {"derate_per_k", m.figure(&c.DeratePerK, inAmperePerK)},
		{"quiescent", m.figure(&c.Quiescent, inAmpere)}, {"efficiency", m.figure(&c.Efficiency, inPart)},
		{"per_watt", m.figure(&c.PerWatt, inKPerWatt)}, {"junction", m.figure(&c.Junction, inCelsius)}, {"top", m.figure(&c.Top, inKPerWatt)}, {"point", m.text(&c.Point)},
		{"least_load", m.figure(&c.LeastLoad, inAmpere)}, {"cap_max", m.figure(&c.CapMax, inFarad)}, {"start", m.figure(&c.Start, inSecond)},
		{"esr_low", m.figure(&c.ESRLow, inOhm)}, {"esr_high", m.figure(&c.ESRHigh, inOhm)},
	}...))
	if lines == nil {
		return
	}
	for _, must := range []string{"name", "topology"} {
		if lines[must] == 0 {
			m.add(n.Line, join(key, must), "", "missing")
		}
	}
	c.Topology = standin.Topology(topology)
	m.out.Candidates = append(m.out.Candidates, c)
}

// outside is how it behaves to what stands about it.
func (m *standInReader) outside(c *standin.Candidate) []field {
	return []field{
		{"isolation", m.figure(&c.Isolation, inVolt)}, {"class", m.choice(&c.Class, separations...)}, {"creepage", m.figure(&c.Creepage, inMetre)},
		{"clamp", m.figure(&c.Clamp, inVolt)}, {"fuse", m.figure(&c.Fuse, inAmpere)},
		{"overload", m.choice(&c.Overload, "constant", "foldback", "hiccup", "latch")}, {"fold_to", m.figure(&c.FoldTo, inAmpere)},
		{"held_up", m.answer(&c.Prebias)}, {"second_source", m.answer(&c.Parallel)}, {"sense", m.answer(&c.Sense)}, {"power_good", m.answer(&c.Good)},
		{"enable", m.choice(&c.Enable, "high", "low", "none")}, {"enable_on", m.figure(&c.EnableOn, inLevel)}, {"enable_off", m.figure(&c.EnableOff, inLevel)},
		{"length", m.figure(&c.Length, inMetre)}, {"width", m.figure(&c.Width, inMetre)}, {"height", m.figure(&c.Height, inMetre)},
	}
}

// inside is what is known of a power stage whose parts can be seen.
func (m *standInReader) inside(c *standin.Candidate) []field {
	return []field{
		{"duty_max", m.figure(&c.DutyMax, inPart)}, {"frequency", m.figure(&c.Frequency, inHertz)}, {"inductance", m.figure(&c.Inductance, inHenry)},
		{"switch_max", m.figure(&c.SwitchMax, inAmpere)}, {"switch_drop", m.figure(&c.SwitchDrop, inLevel)}, {"diode_drop", m.figure(&c.DiodeDrop, inLevel)},
		{"diode", m.figure(&c.Diode, inAmpere)}, {"diode_back", m.figure(&c.DiodeBack, inVolt)},
		{"out_cap", m.figure(&c.OutCap, inFarad)}, {"out_esr", m.figure(&c.OutESR, inOhm)},
		{"in_cap", m.figure(&c.InCap, inFarad)}, {"in_cap_rms", m.figure(&c.InCapRMS, inAmpere)},
		{"divider", func(n *yaml.Node, key string) { m.divider(c, n, key) }},
	}
}

// copper reads ohms, or a wire or a track whose ohms follow:
// "wire AWG 22, 300 mm at 60 degC; measured length", "track 100 mm x 1 mm x 35 um; ...".
func (m *standInReader) copper(into *standin.Figure) func(*yaml.Node, string) {
	plain := m.figure(into, inOhm)
	return func(n *yaml.Node, key string) {
		kind, rest, _ := strings.Cut(strings.TrimSpace(n.Value), " ")
		if n.Kind != yaml.ScalarNode || kind != "wire" && kind != "track" {
			plain(n, key)
			return
		}
		shape, source, _ := strings.Cut(rest, ";")
		ohm, err := copperOhm(kind, shape)
		if source = strings.TrimSpace(source); source == "" && err == nil {
			err = fmt.Errorf("%q does not say where the figure is from", cut(n.Value))
		}
		if err != nil {
			m.add(n.Line, key, "write such as wire AWG 22, 300 mm at 60 degC; measured, or track 100 mm x 1 mm x 35 um; measured", "%v", err)
			return
		}
		*into = standin.Figure{Value: ohm, Source: source + ", " + kind + " " + strings.TrimSpace(shape)}
	}
}

// copperOhm works out a wire or a track, at 20 °C unless it says another.
func copperOhm(kind, shape string) (float64, error) {
	shape, heat, warm := strings.Cut(shape, " at ")
	celsius := 20.0
	var err error
	if warm {
		if celsius, err = inCelsius.parse(heat); err != nil {
			return 0, err
		}
	}
	var v [3]float64
	if kind == "wire" {
		var gauge int
		awg, length, _ := strings.Cut(shape, ",")
		if n, _ := fmt.Sscanf(strings.TrimSpace(awg), "AWG %d", &gauge); n != 1 || gauge < 0 || gauge > 40 {
			return 0, fmt.Errorf("%q is no gauge: AWG 0 to 40", cut(awg))
		}
		if v[0], err = inMetre.parse(length); err != nil || v[0] <= 0 {
			return 0, fmt.Errorf("%q is no length", cut(length))
		}
		return standin.Warmed(standin.WireOhm(float64(gauge), v[0]), celsius), nil
	}
	sizes := strings.Split(shape, " x ")
	if len(sizes) != len(v) {
		return 0, fmt.Errorf("%q is not length x width x thickness", cut(shape))
	}
	for i, text := range sizes {
		if v[i], err = inMetre.parse(text); err != nil || v[i] <= 0 {
			return 0, fmt.Errorf("%q is no length", cut(text))
		}
	}
	return standin.Warmed(standin.TrackOhm(v[0], v[1], v[2]), celsius), nil
}
