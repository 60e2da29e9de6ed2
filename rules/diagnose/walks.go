package diagnose

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/isolate"
)

// TracePoint is a place where a probe reaches a rail's trace. Points stand in
// the order in which the current passes them.
type TracePoint struct {
	Name, Rail string
	At         float64 // metre along the trace; 0: only the order is known
}

// walked is a millivolt walk along one rail.
type walked struct {
	rail   string
	points []walkedPoint
}

type walkedPoint struct {
	name       string
	volts, sd  float64
	n          int
	resolution float64
}

// walkStay takes what a probe read while a small current flowed.
func (s *story) walkStay(e event) {
	st := e.stay
	switch {
	case st.quantity != capture.DCVoltage || st.where.Rail == "" || st.where.Point == "":
	case !st.settled:
		s.waste(e.at, "the drop was never steady", "%s at %s: the drop was never steady", st.where.Rail, st.where.Point)
	default:
		s.walkPoint(st.where.Rail, walkedPoint{st.where.Point, st.value, st.sd, st.n, st.like.Resolution})
	}
}

// walkPoint files a point; one that was read again replaces what was there.
func (s *story) walkPoint(rail string, p walkedPoint) {
	i := slices.IndexFunc(s.walks, func(w walked) bool { return w.rail == rail })
	if i < 0 {
		s.walks = append(s.walks, walked{rail: rail})
		i = len(s.walks) - 1
	}
	w := &s.walks[i]
	if at := slices.IndexFunc(w.points, func(q walkedPoint) bool { return strings.EqualFold(q.name, p.name) }); at >= 0 {
		w.points[at] = p
		return
	}
	w.points = append(w.points, p)
}

// walksFound fits every walk.
func (s *story) walksFound() []capture.ShortWalk {
	out := []capture.ShortWalk{}
	for _, w := range s.walks {
		out = append(out, s.walkFound(w))
	}
	return out
}

func (s *story) walkFound(w walked) capture.ShortWalk {
	points, stray := s.inOrder(w)
	out := capture.ShortWalk{Rail: w.rail, Word: string(isolate.CannotTell), Points: []capture.WalkPoint{}}
	for _, p := range points {
		out.Points = append(out.Points, p.shown)
	}
	if stray != "" {
		out.Say = fmt.Sprintf("Cannot tell: the sheet does not say where on %s %s lies; give it under points.", w.rail, stray)
		return out
	}
	fit := make([]isolate.Point, len(points))
	for i, p := range points {
		fit[i] = p.fit
	}
	place, err := isolate.WalkShort(fit)
	if err != nil {
		out.Say = "Cannot tell: " + strings.TrimPrefix(err.Error(), isolate.ErrWalk.Error()+": ") + "."
		return out
	}
	out.Word, out.Say, out.Between, out.At, out.Low, out.High = string(place.Word), place.Say, place.Between, place.At, place.Low, place.High
	return out
}

type orderedPoint struct {
	place int
	fit   isolate.Point
	shown capture.WalkPoint
}

// inOrder sorts a walk as the sheet has its points. Without points on the sheet
// the order of reading is taken.
func (s *story) inOrder(w walked) (out []orderedPoint, stray string) {
	var known []TracePoint
	for _, p := range s.board.Points {
		if p.Rail == w.rail {
			known = append(known, p)
		}
	}
	for n, p := range w.points {
		at, along := n, 0.0
		if len(known) > 0 {
			at = slices.IndexFunc(known, func(k TracePoint) bool { return strings.EqualFold(k.Name, p.name) })
			if at < 0 {
				stray = p.name
			} else {
				along = known[at].At
			}
		}
		u := isolate.WalkDoubt(p.sd, p.resolution, p.n)
		out = append(out, orderedPoint{at, isolate.Point{Name: p.name, At: along, Volts: p.volts, U: u}, capture.WalkPoint{Name: p.name, At: along, Volts: p.volts, N: p.n}})
	}
	slices.SortStableFunc(out, func(a, b orderedPoint) int { return cmp.Compare(a.place, b.place) })
	return out, stray
}

// typedPoint is a line of the log such as "walk +5 V logic TP5 3.21 mV".
type typedPoint struct {
	rail, name        string
	volts, resolution float64
}

// parseWalk reads such a line; ok is false for every other one.
func parseWalk(b Board, line string) (p typedPoint, ok bool, err error) {
	rest, ok := strings.CutPrefix(strings.Join(strings.Fields(line), " "), "walk ")
	if !ok {
		return p, false, nil
	}
	rail, rest, known := longest(railNames(b), rest)
	if !known {
		return p, true, errors.New("it names no rail; write such as walk +5 V logic TP5 3.21 mV")
	}
	words := strings.Fields(rest)
	figure := len(words) - 1
	if figure > 1 && strings.HasSuffix(strings.ToLower(words[figure]), "v") && !strings.ContainsAny(words[figure], "0123456789") {
		figure-- // "3.21 mV"
	}
	if figure < 1 {
		return p, true, errors.New("it names no point and volts; write such as walk +5 V logic TP5 3.21 mV")
	}
	p.rail, p.name = rail, strings.Join(words[:figure], " ")
	p.volts, p.resolution, err = capture.Volt.ParseTyped(strings.Join(words[figure:], " "), capture.Point)
	return p, true, err
}
