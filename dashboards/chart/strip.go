package chart

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// strip is one record with one unit on the common time axis.
type strip struct {
	name, unit  string
	band        *band     // nil: no band, ticks instead
	at          []float64 // ticks
	lo, hi      float64   // range of the frame
	top, bottom float64
	resolution  float64
	runs        [][]row
	cold        [][]row // read without power
	taken       []box   // by labels
	single      bool    // so few readings that each is shown
	rows        int
	holes       []hole
	gaps        []capture.Gap
}

func (s *strip) y(v float64) float64 { return s.bottom - (v-s.lo)/(s.hi-s.lo)*(s.bottom-s.top) }

// trim cuts the runs to the axis and to one row a column.
func (s *strip) trim(f *frame) {
	s.runs, s.cold = trimmed(f, s.runs), trimmed(f, s.cold)
	s.count(f)
}

func trimmed(f *frame, runs [][]row) (out [][]row) {
	for _, run := range runs {
		if run = squeeze(within(run, f.from, f.to), f.from, f.to, f.columns()); len(run) > 0 {
			out = append(out, run)
		}
	}
	return out
}

// count tells whether there are so few readings that each can be a dot: one or
// fewer for every four units. A curve would invent.
func (s *strip) count(f *frame) {
	s.rows, s.single = 0, true
	for _, run := range s.runs {
		s.rows += len(run)
		for _, r := range run {
			s.single = s.single && r.min == r.max
		}
	}
	s.single = s.single && s.rows < f.columns()/4
}

func extremes(runs [][]row) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, run := range runs {
		for _, r := range run {
			lo, hi = min(lo, r.min), max(hi, r.max)
		}
	}
	return lo, hi
}

func (s *strip) draw(f *frame, zone *time.Location) {
	if s.band != nil {
		s.ground(f)
	} else {
		s.rungs(f)
	}
	for _, h := range holesOf(s.holes, s.gaps) {
		f.hatch(h, s.top, s.bottom, holeTitle(h, zone))
	}
	s.unpowered(f)
	s.readings(f)
	f.line("c-axis", f.left, s.bottom, f.right, s.bottom)
	s.heading(f)
	if s.band != nil {
		s.cut(f)
	}
}

// rungs draws the ticks of a strip without a band; a name that would stand on
// another is left out.
func (s *strip) rungs(f *frame) {
	said := math.Inf(1)
	for _, v := range s.at {
		y := s.y(v)
		f.line("c-grid", f.left, y, f.right, y)
		if said-y > f.text*1.1 {
			f.say("", "end", f.left-8*f.k, y+4.5*f.k, capture.Figure(v, whole((s.hi-s.lo)/8)))
			said = y
		}
	}
}

// ground draws the band and names its edges.
func (s *strip) ground(f *frame) {
	b := s.band
	top, bottom := s.top, s.bottom
	if b.hasHigh {
		top = s.y(b.high)
	}
	if b.hasLow {
		bottom = s.y(b.low)
	}
	if b.hasHigh || b.hasLow {
		f.rect("c-band", f.left, top, f.right-f.left, bottom-top)
	}
	var labels []label
	edge := func(v float64, class, word string) {
		y := s.y(v)
		f.line(class, f.left, y, f.right, y)
		labels = append(labels, label{y: y, figure: b.figure(v), word: word, strong: class == "c-target"})
	}
	if b.hasHigh {
		edge(b.high, "c-edge", "high edge")
	}
	edge(b.target, "c-target", "target")
	if b.hasLow {
		edge(b.low, "c-edge", "low edge")
	}
	sides(f, labels, s.top, s.bottom)
}

// label is a figure at the left end of a line and its word at the right.
type label struct {
	y            float64
	figure, word string
	strong, bad  bool
}

// sides writes the labels of horizontal lines, pushed apart where lines lie
// closer than letters are high. Those below come last and are pushed down.
func sides(f *frame, labels []label, top, bottom float64) {
	slices.SortStableFunc(labels, func(a, b label) int { return cmp.Compare(a.y, b.y) })
	need := f.text * 1.05
	ys := make([]float64, len(labels))
	for i, l := range labels {
		ys[i] = max(l.y, top)
		if i > 0 {
			ys[i] = max(ys[i], ys[i-1]+need)
		}
	}
	for i, limit := len(ys)-1, bottom+f.text*0.4; i >= 0; i-- {
		ys[i] = min(ys[i], limit)
		limit = ys[i] - need
	}
	for i, l := range labels {
		class := ""
		if l.bad {
			class = "bad"
		} else if l.strong {
			class = "strong"
		}
		f.say(class, "end", f.left-8*f.k, ys[i]+4.5*f.k, l.figure)
		if l.word != "" && f.right < f.width-40*f.k {
			f.say("", "start", f.right+8*f.k, ys[i]+4.5*f.k, l.word)
		}
	}
}

// readings draws the runs, in ink inside the band and louder outside it.
func (s *strip) readings(f *frame) {
	if s.rows == 0 && len(s.cold) > 0 {
		return
	}
	if s.rows == 0 {
		f.say("halo", "middle", (f.left+f.right)/2, (s.top+s.bottom)/2+4.5*f.k, "No readings")
		return
	}
	for _, part := range s.parts() {
		f.open("g", at{"clip-path", f.clip(f.left, part.top, f.right-f.left, part.bottom-part.top)})
		for _, run := range s.runs {
			s.run(f, run, part.class)
		}
		f.shut("g")
	}
	if s.single {
		s.dots(f)
	}
}

type part struct {
	class       string
	top, bottom float64
}

// parts divides the frame at the edges that readings have crossed.
func (s *strip) parts() []part {
	all := part{"", s.top, s.bottom}
	if s.band == nil {
		return []part{all}
	}
	lo, hi := extremes(s.runs)
	out := []part{all}
	if s.band.below(lo) {
		out[0].bottom = s.y(s.band.low)
		out = append(out, part{" out", out[0].bottom, s.bottom})
	}
	if s.band.above(hi) {
		out[0].top = s.y(s.band.high)
		out = append(out, part{" out", s.top, out[0].top})
	}
	return out
}

// run draws one unbroken run. A run of one reading is a dot: a line needs two.
func (s *strip) run(f *frame, run []row, class string) {
	if len(run) == 1 && !s.single {
		r := run[0]
		if r.max > r.min {
			f.rect("c-env"+class, f.x(r.at)-0.75, s.y(r.max), 1.5, s.y(r.min)-s.y(r.max))
		}
		f.shape("circle", "c-dot"+class, at{"cx", num(f.x(r.at)), "cy", num(s.y(r.mean)), "r", "1.6"})
		return
	}
	points := func(value func(row) float64, rows []row) string {
		var b strings.Builder
		for i, r := range rows {
			if i > 0 {
				b.WriteByte('L')
			}
			b.WriteString(num(f.x(r.at)) + " " + num(s.y(value(r))))
		}
		return b.String()
	}
	if !s.single {
		back := slices.Clone(run)
		slices.Reverse(back)
		f.shape("path", "c-env"+class, at{"d", "M" + points(func(r row) float64 { return r.max }, run) + "L" + points(func(r row) float64 { return r.min }, back) + "Z"})
	}
	f.shape("path", "c-mean"+class, at{"d", "M" + points(func(r row) float64 { return r.mean }, run)})
}

// dots shows each reading where there are few enough to see them apart.
func (s *strip) dots(f *frame) {
	radius := "2"
	if s.rows < 90 {
		radius = "3.2"
	}
	for _, run := range s.runs {
		for _, r := range run {
			if y := s.y(r.mean); y >= s.top && y <= s.bottom {
				class := "c-dot"
				if s.band != nil && s.band.out(r.mean) {
					class = "c-dot out"
				}
				f.shape("circle", class, at{"cx", num(f.x(r.at)), "cy", num(y), "r", radius})
			}
		}
	}
}

func (s *strip) heading(f *frame) {
	name := s.name
	if s.unit != "" {
		name += ", " + s.unit
	}
	x, y := f.left+8*f.k, s.top+15*f.k
	f.say("strong halo", "start", x, y, name)
	next := x + wide(name, f.text) + 12*f.k
	sub := pick(s.single, "each reading a dot", "mean as a line, least to greatest shaded")
	if s.band != nil && s.rows > 0 && f.right-next > wide(sub, f.text) {
		f.say("halo", "start", next, y, sub)
	}
}
