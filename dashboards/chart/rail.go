package chart

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// Heights in the units of 13-unit letters.
const (
	topRoom  = 6.0
	axisRoom = 22.0
	laneRoom = 24.0
	between  = 16.0
)

func drawRail(m RailModel) *pen {
	m = withDefaults(m)
	f := &frame{pen: &pen{}, id: m.ID, width: m.Width, height: m.Height, text: m.Text, k: m.Text / 13}
	f.from, f.to = m.From, m.To
	narrow := m.Width < 520
	f.left, f.right = 60*f.k, m.Width-78*f.k
	if narrow {
		f.left, f.right = 50*f.k, m.Width-8
	}
	f.left = max(f.left, bandOf(m.Rail).room()*m.Text+10*f.k)
	strips := layout(f, m)
	f.begin("chart", m.Title, describe(m, strips[0]))
	grid(f, m, strips)
	for i := range strips {
		strips[i].draw(f, m.Zone)
	}
	if len(m.Marks) > 0 {
		lane(f, m.Marks, strips[0].bottom+laneRoom*f.k/2+1, f.height-axisRoom*f.k, m.Zone)
	}
	f.shut("svg")
	return f.pen
}

func withDefaults(m RailModel) RailModel {
	m.Zone = zoneOf(m.Zone)
	m.From, m.To = window(m.From, m.To, m.Series)
	if m.Width <= 0 {
		m.Width = 960
	}
	if m.Height <= 0 {
		m.Height = 300 + 80*float64(min(1, len(m.Below)))
	}
	if m.Text <= 0 {
		m.Text = 13
	}
	if m.ID = safe(m.ID); m.ID == "" {
		m.ID = slug(m.Rail.Name)
	}
	if m.Title == "" {
		m.Title = capture.TrueMinus(m.Rail.Name) + ", " + moment(m.From, m.Zone) + " to " + moment(m.To, m.Zone)
	}
	return m
}

// layout shares the height: the rail has what the other strips leave.
func layout(f *frame, m RailModel) []strip {
	b := bandOf(m.Rail)
	lo, hi := b.frame()
	first := strip{name: capture.TrueMinus(m.Rail.Name), unit: "V", band: &b, lo: lo, hi: hi, resolution: m.Resolution, gaps: m.Gaps}
	first.runs, first.holes = split(m.Series, b.sign, m.Every, m.Gaps)
	first.runs, first.cold = m.powered(first.runs, b)
	strips := []strip{first}
	for _, s := range m.Below {
		strips = append(strips, below(s, m.Gaps))
	}
	free := f.height - (topRoom+axisRoom+between*float64(len(m.Below)))*f.k
	if len(m.Marks) > 0 {
		free -= laneRoom * f.k
	}
	sum := 1 + 0.36*float64(len(m.Below))
	y := topRoom * f.k
	for i := range strips {
		s := &strips[i]
		share := 0.36
		if i == 0 {
			share = 1
		}
		s.top, s.bottom = y, y+max(10, free*share/sum)
		y = s.bottom + between*f.k
		if i == 0 && len(m.Marks) > 0 {
			y += laneRoom * f.k
		}
		s.trim(f)
	}
	return strips
}

// below prepares a strip without a band.
func below(s Strip, gaps []capture.Gap) strip {
	out := strip{name: s.Name, unit: s.Quantity.Unit().Symbol(), resolution: s.Resolution, gaps: gaps}
	out.runs, out.holes = split(s.Series, 1, s.Every, gaps)
	lo, hi := extremes(out.runs)
	least := 10 * s.Resolution
	if s.Quantity == capture.Temperature {
		least = max(least, 10)
	}
	if least <= 0 {
		least = 1e-3
	}
	out.lo, out.hi, out.at = scale(lo, hi, least)
	return out
}

// grid draws the time axis through all strips.
func grid(f *frame, m RailModel, strips []strip) {
	room := max(2, (f.right-f.left)/(96*f.k))
	for _, t := range ticks(f.from, f.to, step(f.to.Sub(f.from), room), m.Zone) {
		x := f.x(t.at)
		for _, s := range strips {
			f.line("c-grid", x, s.top, x, s.bottom)
		}
		half := wide(t.label, f.text) / 2
		if x-half < 0 || x+half > f.width {
			continue
		}
		f.say(pick(t.day, "strong", ""), "middle", x, f.height-6*f.k, t.label)
	}
}

// describe says in words what the drawing shows, for whoever cannot see it.
func describe(m RailModel, s strip) string {
	var parts []string
	b := s.band
	parts = append(parts, bandWords(*b)+".")
	n, mean, lo, hi := 0, 0.0, 0.0, 0.0
	for _, run := range s.runs {
		for _, r := range run {
			if n == 0 {
				lo, hi = r.min, r.max
			}
			lo, hi = min(lo, r.min), max(hi, r.max)
			n += r.n
			mean += (r.mean - mean) * float64(r.n) / float64(n)
		}
	}
	if n == 0 {
		parts = append(parts, pick(len(s.cold) > 0, "No readings under power.", "No readings."))
	} else {
		parts = append(parts, fmt.Sprintf("%d readings, mean %s, from %s to %s.", n, volts(b.sign*mean, m.Resolution), volts(b.sign*lo, m.Resolution), volts(b.sign*hi, m.Resolution)))
	}
	if n > 0 && len(s.cold) > 0 {
		parts = append(parts, "Others were read without power.")
	}
	if blind := len(holesOf(s.holes, m.Gaps)); blind == 1 {
		parts = append(parts, "One stretch was not watched.")
	} else if blind > 1 {
		parts = append(parts, fmt.Sprintf("%d stretches were not watched.", blind))
	}
	for i, e := range m.Marks {
		if i == 20 {
			parts = append(parts, fmt.Sprintf("And %d more marks.", len(m.Marks)-i))
			break
		}
		parts = append(parts, pick(e.Kind == Alarm, "Alarm: ", "Note: ")+strings.TrimSuffix(e.Word, ".")+" at "+e.At.Time().In(m.Zone).Format("15:04:05")+".")
	}
	return strings.Join(parts, " ")
}

func bandWords(b band) string {
	switch {
	case b.hasLow && b.hasHigh && b.sign > 0:
		return "Band " + b.figure(b.low) + " to " + b.figure(b.high) + " V, target " + b.figure(b.target) + " V"
	case b.hasLow && b.hasHigh:
		return "Band " + b.figure(b.high) + " to " + b.figure(b.low) + " V, target " + b.figure(b.target) + " V"
	case b.hasLow:
		return "Low edge " + b.figure(b.low) + " V, no high edge declared"
	case b.hasHigh:
		return "High edge " + b.figure(b.high) + " V, no low edge declared"
	}
	return "No band declared, target " + b.figure(b.target) + " V"
}

func volts(v, resolution float64) string { return capture.Figure(v, mindful(resolution)) + " V" }

// mindful gives a resolution to print by where none is known: a millivolt.
func mindful(resolution float64) float64 {
	if resolution <= 0 {
		return 1e-3
	}
	return resolution
}

// holesOf joins the holes of a series with known gaps that no reading follows.
func holesOf(holes []hole, gaps []capture.Gap) []hole {
	out := append([]hole(nil), holes...)
next:
	for _, g := range gaps {
		for _, h := range holes {
			if g.From < h.to && g.To > h.from {
				continue next
			}
		}
		if g.To > g.From {
			out = append(out, hole{g.From, g.To, g.Reason})
		}
	}
	return out
}

func holeTitle(h hole, zone *time.Location) string {
	s := "Not watched " + h.from.Time().In(zone).Format("15:04:05") + " to " + h.to.Time().In(zone).Format("15:04:05")
	if h.why != "" {
		s += ": " + h.why
	}
	return s
}
