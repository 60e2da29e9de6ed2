package chart

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
)

// drawEvent shows one fall reading by reading, whole: here the fall is the
// news, and the range follows it with the band still in sight.
func drawEvent(m EventModel) *pen {
	m = eventDefaults(m)
	f := &frame{pen: &pen{}, id: m.ID, width: m.Width, height: m.Height, text: m.Text, k: m.Text / 13}
	f.left, f.right = 60*f.k, m.Width-14*f.k
	f.from, f.to = eventSpan(m.Points)
	b := bandOf(m.Rail)
	s := &strip{band: &b, top: topRoom * f.k, bottom: m.Height - axisRoom*f.k, resolution: m.Resolution}
	s.runs = pointRuns(m.Points, b.sign)
	s.fit()
	f.begin("chart event", m.Title, eventWords(m, b))
	room := max(2, (f.right-f.left)/(96*f.k))
	for _, t := range ticks(f.from, f.to, step(f.to.Sub(f.from), room), m.Zone) {
		x := f.x(t.at)
		f.line("c-grid", x, s.top, x, s.bottom)
		if half := wide(t.label, f.text) / 2; x+half <= f.width && x-half >= 0 {
			f.say("", "middle", x, s.bottom+16*f.k, t.label)
		}
	}
	s.groundFitted(f)
	for _, h := range pointHoles(m.Points) {
		f.hatch(h, s.top, s.bottom, holeTitle(h, m.Zone))
	}
	s.count(f)
	s.single = true
	s.readings(f)
	f.line("c-axis", f.left, s.bottom, f.right, s.bottom)
	f.shut("svg")
	return f.pen
}

func eventDefaults(m EventModel) EventModel {
	m.Zone = zoneOf(m.Zone)
	if m.Width <= 0 {
		m.Width = 440
	}
	if m.Height <= 0 {
		m.Height = 180
	}
	if m.Text <= 0 {
		m.Text = 13
	}
	if m.ID = safe(m.ID); m.ID == "" {
		m.ID = slug(m.Rail.Name) + "-event"
	}
	if m.Title == "" {
		m.Title = capture.TrueMinus(m.Rail.Name) + ", reading by reading"
	}
	return m
}

// eventSpan leaves a little air on both sides of the readings.
func eventSpan(points []capture.Point2) (from, to capture.Instant) {
	if len(points) == 0 {
		return 0, 1e6
	}
	from, to = points[0].At, points[len(points)-1].At
	air := max((to-from)/40, 100_000)
	return from - air, to + air
}

func pointRuns(points []capture.Point2, sign float64) [][]row {
	var runs [][]row
	var run []row
	for _, p := range points {
		if !p.Good || math.IsNaN(p.Value) || math.IsInf(p.Value, 0) {
			if len(run) > 0 {
				runs, run = append(runs, run), nil
			}
			continue
		}
		v := sign * p.Value
		run = append(run, row{at: p.At, from: p.At, to: p.At, min: v, mean: v, max: v, n: 1})
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}

// pointHoles are the stretches between the last reading before and the first
// after something that was no reading.
func pointHoles(points []capture.Point2) []hole {
	var out []hole
	last, broken := capture.Instant(0), false
	for _, p := range points {
		if !p.Good {
			broken = true
			if last == 0 {
				last = p.At
			}
			continue
		}
		if broken {
			out = append(out, hole{last, p.At, "no reading"})
		}
		last, broken = p.At, false
	}
	if broken {
		out = append(out, hole{last, points[len(points)-1].At, "no reading"})
	}
	return out
}

// fit sets the range to the readings and the band, with air.
func (s *strip) fit() {
	lo, hi := extremes(s.runs)
	for _, v := range s.band.edges() {
		lo, hi = min(lo, v), max(hi, v)
	}
	air := (hi - lo) * 0.12
	if air <= 0 {
		air = s.band.reach
	}
	s.lo, s.hi = lo-air, hi+air
}

// groundFitted draws the band and names its edges and the floor of the fall.
func (s *strip) groundFitted(f *frame) {
	b := s.band
	top, bottom := s.top, s.bottom
	var labels []label
	if b.hasHigh {
		top = s.y(b.high)
		labels = append(labels, label{y: top, figure: b.figure(b.high)})
	}
	if b.hasLow {
		bottom = s.y(b.low)
		labels = append(labels, label{y: bottom, figure: b.figure(b.low)})
	}
	if b.hasHigh || b.hasLow {
		f.rect("c-band", f.left, top, f.right-f.left, bottom-top)
	}
	f.line("c-target", f.left, s.y(b.target), f.right, s.y(b.target))
	for _, l := range labels {
		f.line("c-edge", f.left, l.y, f.right, l.y)
	}
	lo, hi := extremes(s.runs)
	if b.below(lo) {
		labels = append(labels, label{y: s.y(lo), figure: capture.Figure(b.sign*lo, mindful(s.resolution)), bad: true})
	}
	if b.above(hi) {
		labels = append(labels, label{y: s.y(hi), figure: capture.Figure(b.sign*hi, mindful(s.resolution)), bad: true})
	}
	sides(f, labels, s.top, s.bottom)
}

// eventWords lists the readings where they are few, else the lowest.
func eventWords(m EventModel, b band) string {
	var said []string
	for _, p := range m.Points {
		if p.Good {
			said = append(said, capture.Figure(p.Value, mindful(m.Resolution)))
		} else {
			said = append(said, "no reading")
		}
	}
	if len(said) == 0 {
		return "No readings."
	}
	if len(said) <= 40 {
		return bandWords(b) + ". Readings in volt: " + strings.Join(said, ", ") + "."
	}
	lo, hi := extremes(pointRuns(m.Points, b.sign))
	return fmt.Sprintf("%s. %d readings, from %s to %s.", bandWords(b), len(said), volts(b.sign*lo, m.Resolution), volts(b.sign*hi, m.Resolution))
}
