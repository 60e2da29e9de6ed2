package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// world is a board on the bench with faults in it: a network of conductances
// that is solved, and converters with a current limit. It knows the sheet's
// wiring and nothing of the engine's predictions.
type world struct {
	b      Board
	r      *rand.Rand
	faults []Fault
	off    []string
	ohm    map[string]float64 // of each part, drawn
	bad    map[string]float64 // ohm of each fault
	hiccup bool               // converters retry rather than fold back
	bridge float64            // ohm between two neighbouring rails, 0: none
	at     [2]string
}

// amps is what each load draws when healthy.
var amps = map[string]float64{"logic board": 0.9, "main logic": 0.1, "audio board +": 0.3, "audio board -": 0.3, "DSP": 0.25}

func newWorld(b Board, seed uint64, faults ...Fault) *world {
	w := &world{b: b, r: rand.New(rand.NewPCG(seed, 7)), faults: faults, ohm: map[string]float64{}, bad: map[string]float64{}}
	for _, l := range b.Loads {
		w.ohm[l.Name] = l.Ohms * math.Exp(0.12*w.r.NormFloat64())
	}
	for _, c := range b.Converters {
		w.ohm[c.Name] = c.Ohms * math.Exp(0.12*w.r.NormFloat64())
		w.ohm[c.Name+" in"] = c.InOhms * math.Exp(0.12*w.r.NormFloat64())
	}
	for _, f := range faults {
		low, high := 0.15, 2.5
		if f.Kind == Leaky {
			low, high = 12, 120
		}
		w.bad[f.Part] = low * math.Pow(high/low, w.r.Float64())
	}
	w.hiccup = w.r.Float64() < 0.5
	return w
}

func (w *world) has(part string, k Kind) bool { return slices.Contains(w.faults, Fault{part, k}) }
func (w *world) gone(part string) bool        { return slices.Contains(w.off, part) }

// network gathers conductances between named nodes; "" is the return.
type network struct {
	nodes []string
	g     [][]float64
}

func (n *network) node(name string) int {
	if i := slices.Index(n.nodes, name); i >= 0 {
		return i
	}
	n.nodes = append(n.nodes, name)
	for i := range n.g {
		n.g[i] = append(n.g[i], 0)
	}
	n.g = append(n.g, make([]float64, len(n.nodes)))
	n.g[len(n.g)-1][len(n.g)-1] = 1e-9
	return len(n.nodes) - 1
}

func (n *network) resistor(a, b string, ohm float64) {
	i := n.node(a)
	n.g[i][i] += 1 / ohm
	if b != "" {
		j := n.node(b)
		n.g[j][j] += 1 / ohm
		n.g[i][j] -= 1 / ohm
		n.g[j][i] -= 1 / ohm
	}
}

// seenFrom solves for the volts at a node when one ampere flows in there.
func (n *network) seenFrom(name string) float64 {
	at := n.node(name)
	size := len(n.nodes)
	m := make([][]float64, size)
	for i := range m {
		m[i] = append(slices.Clone(n.g[i]), 0)
	}
	m[at][size] = 1
	for c := range size {
		for r := range size {
			if r == c {
				continue
			}
			f := m[r][c] / m[c][c]
			for k := c; k <= size; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	return m[at][size] / m[at][at]
}

// cold builds the network of the unpowered board.
func (w *world) cold() *network {
	n := &network{}
	for _, r := range w.b.Rails {
		n.node(r.Name)
	}
	for _, l := range w.b.Loads {
		at := l.Rail
		if l.Connector != "" {
			at = "behind " + l.Name
			through := 0.01
			if w.gone(l.Connector) || w.has(l.Connector, ConnectorOpen) {
				through = 1e9
			}
			n.resistor(l.Rail, at, through)
		}
		n.resistor(at, "", w.ohm[l.Name])
		if w.has(l.Name, Shorted) {
			n.resistor(at, "", w.bad[l.Name])
		}
	}
	for _, c := range w.b.Capacitors {
		if !w.gone(c.Name) && (w.has(c.Name, Shorted) || w.has(c.Name, Leaky)) {
			n.resistor(c.Rail, "", w.bad[c.Name])
		}
	}
	for _, c := range w.b.Converters {
		if w.gone(c.Name) {
			continue
		}
		n.resistor(c.In, "", w.ohm[c.Name+" in"])
		inside := "inside " + c.Name
		n.resistor(inside, "", w.ohm[c.Name])
		through := 0.05
		if w.has(c.Name, InductorOpen) {
			through = 1e9
		}
		n.resistor(inside, c.Out, through)
		if w.has(c.Name, Shorted) {
			n.resistor(inside, "", w.bad[c.Name])
		}
	}
	if w.bridge > 0 {
		n.resistor(w.at[0], w.at[1], w.bridge)
	}
	return n
}

// draw is what a rail takes at its nominal volts, in ampere, converters included.
func (w *world) draw(rail string) float64 {
	var sum float64
	r, _ := w.b.Rail(rail)
	v := math.Abs(r.Nominal)
	for _, l := range w.b.Loads {
		if l.Rail != rail || l.Connector != "" && (w.gone(l.Connector) || w.has(l.Connector, ConnectorOpen)) {
			continue
		}
		sum += w.takes(l, v)
	}
	for _, c := range w.b.Capacitors {
		if c.Rail == rail && !w.gone(c.Name) && (w.has(c.Name, Shorted) || w.has(c.Name, Leaky)) {
			sum += v / w.bad[c.Name]
		}
	}
	for _, c := range w.b.Converters {
		if w.gone(c.Name) {
			continue
		}
		if c.Out == rail && w.has(c.Name, Shorted) {
			sum += v / w.bad[c.Name]
		}
		if out, _ := w.b.Rail(c.Out); c.In == rail {
			sum += min(w.draw(c.Out), w.limit(c)) * math.Abs(out.Nominal) / v / 0.85
		}
	}
	if w.bridge > 0 && slices.Contains(w.at[:], rail) {
		sum += v / w.bridge
	}
	return sum
}

func (w *world) takes(l Load, v float64) float64 {
	i := amps[l.Name]
	if w.has(l.Name, Overloads) {
		i *= 4
	}
	if w.has(l.Name, Shorted) {
		i += v / w.bad[l.Name]
	}
	return i
}

// limit is where a converter's current ends.
func (w *world) limit(c Converter) float64 {
	i := 0.3
	for _, l := range w.b.Loads {
		if l.Rail == c.Out {
			i += amps[l.Name]
		}
	}
	if w.has(c.Name, Weak) {
		i *= 0.25
	}
	return 1.5 * i
}

// live solves a rail under power: volts by magnitude, and whether it restarts.
func (w *world) live(rail string, hot bool, extra float64) (v float64, restarting bool) {
	r, _ := w.b.Rail(rail)
	nominal := math.Abs(r.Nominal)
	for _, s := range w.b.Sources {
		if s.Rail == rail {
			inside := 0.5
			if w.has(s.Name, Sags) {
				inside = 20
			}
			if w.has(s.Name, GivesNothing) {
				return 0, false
			}
			return max(0.3, 1.05*nominal-inside*min(3, w.draw(rail)+extra)), false
		}
	}
	at := slices.IndexFunc(w.b.Converters, func(c Converter) bool { return c.Out == rail })
	c := w.b.Converters[at]
	dead := w.has(c.Name, GivesNothing) || w.has(c.Name, NotEnabled) || w.has(c.Name, InductorOpen) || hot && w.has(c.Name, StopsHot)
	if dead || w.gone(c.Name) {
		return 0.02 * w.r.Float64(), false
	}
	in, trips := w.live(c.In, hot, 0)
	from, _ := w.b.Rail(c.In)
	if trips || in < 0.3*math.Abs(from.Nominal) {
		return 0.02 * nominal * w.r.Float64(), trips
	}
	i, most := w.draw(rail)+extra, w.limit(c)
	if i > most {
		return min(nominal, nominal*most/i), w.hiccup
	}
	if w.has(c.Name, High) {
		nominal *= 1.15
	}
	v = nominal * (1 + 0.004*w.r.NormFloat64())
	if w.b.ShapeOf(c) == StepsDown {
		v = min(v, in-0.6)
	}
	return v, false
}

// act does a step and returns what the technician writes down.
func (w *world) act(s Step) []string {
	var lines []string
	switch s.Do {
	case Remove:
		w.off = append(w.off, s.Part)
		verb := "lift "
		if m, _ := w.b.removable(s.Part); m == minutesUnplug {
			verb = "unplug "
		}
		lines = append(lines, verb+s.Part)
	case PutBack:
		w.off = slices.DeleteFunc(w.off, func(p string) bool { return p == s.Part })
		lines = append(lines, "put back "+s.Part)
	}
	return append(lines, w.read(s.At))
}

func (w *world) read(at Point) string {
	switch at.Where {
	case Ohms:
		return at.Subject + " " + w.ohmText(w.cold().seenFrom(at.Subject))
	case Volts:
		return w.readVolts(at)
	case Alone:
		g := 1e-9
		if o, is := w.ohm[at.Subject]; is {
			g += 1 / o
		}
		if w.has(at.Subject, Shorted) || w.has(at.Subject, Leaky) {
			g += 1 / w.bad[at.Subject]
		}
		return "alone " + at.Subject + " " + w.ohmText(1/g)
	case SourceAlone:
		return "source " + at.Subject + w.yes(w.carries(at.Subject), " ok", " not ok")
	case LoadAlone:
		l, _ := w.b.load(at.Subject)
		r, _ := w.b.Rail(l.Rail)
		return "load " + l.Name + w.yes(w.takes(l, math.Abs(r.Nominal)) < 1.6*amps[l.Name], " ok", " not ok")
	case Enabled:
		return "enable " + at.Subject + w.yes(!w.has(at.Subject, NotEnabled), " there", " missing")
	case Across:
		return "across " + at.Subject + w.yes(!w.has(at.Subject, InductorOpen), " 0.1 ohm", " open")
	}
	there := !w.has(at.Subject, ConnectorOpen)
	for _, l := range w.b.Loads {
		if l.Connector == at.Subject {
			v, trips := w.live(l.Rail, false, 0)
			r, _ := w.b.Rail(l.Rail)
			there = there && !trips && v > 0.8*math.Abs(r.Nominal)
		}
	}
	return "behind " + at.Subject + w.yes(there, " there", " missing")
}

func (w *world) yes(y bool, a, b string) string {
	if y {
		return a
	}
	return b
}

func (w *world) ohmText(ohm float64) string {
	if ohm > 2e7 {
		return "open"
	}
	return fmt.Sprintf("%.4f ohm", max(0.001, ohm*(1+0.003*w.r.NormFloat64())+0.03*w.r.NormFloat64()))
}

func (w *world) readVolts(at Point) string {
	v, trips := w.live(at.Subject, at.Hot, 0)
	hot := w.yes(at.Hot, " hot", "")
	if trips && w.r.Float64() < 0.7 {
		return at.Subject + " restarting" + hot
	}
	if trips {
		v *= 0.3 // the mean that a slow meter shows
	}
	r, _ := w.b.Rail(at.Subject)
	return fmt.Sprintf("%s %.4f V%s", at.Subject, math.Copysign(v, r.Nominal), hot)
}

// carries unplugs a rail's connectors and hangs the rated load on it.
func (w *world) carries(rail string) bool {
	kept := slices.Clone(w.off)
	var rated float64
	for _, l := range w.b.Loads {
		if l.Rail == rail && l.Connector != "" {
			w.off = append(w.off, l.Connector)
		}
		if l.Rail == rail {
			rated += amps[l.Name]
		}
	}
	v, trips := w.live(rail, false, rated-min(rated, w.draw(rail)))
	w.off = kept
	r, _ := w.b.Rail(rail)
	return !trips && r.Bounds.Contains(math.Copysign(v, r.Nominal))
}
