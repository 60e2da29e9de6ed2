package chart

import (
	"cmp"
	"math"
	"slices"
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
