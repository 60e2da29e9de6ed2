package chart

import (
	"slices"
	"strings"
)

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
