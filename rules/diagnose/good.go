package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
	"steadyrail/rules/trend"
)

// Rested returns what the rails of the job read to their returns, cold, without
// power and with nothing off the board: the newest steady resistance of each, in
// both polarities where both were read.
func (t *Trail) Rested() []Healthy {
	t.mu.Lock()
	defer t.mu.Unlock()
	var off stand
	var out []Healthy
	for _, e := range t.events {
		switch {
		case e.stay == nil:
			off = off.after(Entry{Verb: map[capture.Verb]Verb{capture.ActLift: Remove, capture.ActPutBack: PutBack}[e.act.Verb], Part: strings.ToLower(e.act.Subject)})
		case len(off) == 0 && e.stay.rests():
			out = e.stay.restIn(out, t.sheet.Job)
		}
	}
	return out
}

// rests reports whether a stay is a resistance of a rail at rest.
func (s *stay) rests() bool {
	return s.quantity == capture.Resistance && s.settled && !s.open && !s.live && !s.inject && math.Abs(s.charged) < 0.05 && s.value > 0 && s.back != ""
}

func (s *stay) restIn(list []Healthy, job string) []Healthy {
	i := slices.IndexFunc(list, func(h Healthy) bool { return h.Rail == s.back })
	if i < 0 {
		list = append(list, Healthy{Rail: s.back, Source: job})
		i = len(list) - 1
	}
	if s.reversed {
		list[i].Reversed = s.ohm()
	} else {
		list[i].Ohms = s.ohm()
	}
	return list
}

// GoodBoard is what a board that is well reads.
type GoodBoard struct {
	Name     string // job
	Readings []Healthy
}

// What a tolerance interval of known-good boards promises (common practice).
const (
	goodShare      = 0.95
	goodConfidence = 0.95
)

// KnownGood holds the readings of boards of one kind that are well together:
// for every rail and polarity the interval in which 95 % of such boards lie,
// with 95 % confidence (ISO 16269-6). Resistances are taken as log-normal: they
// cannot be negative, and parts scatter in proportion. The standard deviation is
// never taken below what one hand-held reading scatters by. A board is odd where
// it lies outside the interval of the others.
func KnownGood(boards []GoodBoard) []capture.GoodInterval {
	out := []capture.GoodInterval{}
	for _, key := range goodKeys(boards) {
		out = append(out, interval(boards, key))
	}
	return out
}

type goodKey struct {
	rail     string
	reversed bool
}

func (k goodKey) of(h Healthy) float64 {
	switch {
	case h.Rail != k.rail:
		return 0
	case k.reversed:
		return h.Reversed
	}
	return h.Ohms
}

func goodKeys(boards []GoodBoard) []goodKey {
	var out []goodKey
	for _, b := range boards {
		for _, h := range b.Readings {
			for _, k := range []goodKey{{h.Rail, false}, {h.Rail, true}} {
				if k.of(h) > 0 && !slices.Contains(out, k) {
					out = append(out, k)
				}
			}
		}
	}
	return out
}

type goodReading struct {
	board string
	ohm   float64
}

func readingsOf(boards []GoodBoard, k goodKey) []goodReading {
	var out []goodReading
	for _, b := range boards {
		for _, h := range b.Readings {
			if v := k.of(h); v > 0 {
				out = append(out, goodReading{b.Name, v})
			}
		}
	}
	return out
}

func interval(boards []GoodBoard, k goodKey) capture.GoodInterval {
	all := readingsOf(boards, k)
	out := capture.GoodInterval{Rail: k.rail, Reversed: k.reversed, N: len(all), Odd: []capture.OddBoard{}}
	for _, r := range all {
		out.Readings = append(out.Readings, capture.OddBoard{Board: r.board, Ohms: r.ohm})
	}
	if len(all) < 2 {
		out.Say = fmt.Sprintf("%s: not enough boards: %d, and 2 at least make an interval.", k.name(), len(all))
		return out
	}
	f := spreadOf(all)
	out.Middle, out.Low, out.High, out.K = f.middle, f.low, f.high, f.k
	for i, r := range all {
		others := slices.Delete(slices.Clone(all), i, i+1)
		if len(others) < 2 {
			break
		}
		if o := spreadOf(others); r.ohm < o.low || r.ohm > o.high {
			out.Odd = append(out.Odd, capture.OddBoard{Board: r.board, Ohms: r.ohm})
		}
	}
	out.Say = k.say(out)
	return out
}

type logSpread struct{ middle, low, high, k float64 }

// spreadOf is the interval of at least two readings.
func spreadOf(list []goodReading) logSpread {
	var m trend.Moments
	for _, r := range list {
		m.Add(elementary.Log(r.ohm))
	}
	k, err := trend.ToleranceFactor(len(list), goodShare, goodConfidence)
	if err != nil {
		return logSpread{low: 0, high: math.Inf(1)} // cannot happen from two on
	}
	middle := elementary.Exp(m.Mean())
	least := (touchedScatter + float64(usualPart*middle)) / middle
	wide := float64(k * max(m.SD(), least))
	return logSpread{middle, float64(middle * elementary.Exp(-wide)), float64(middle * elementary.Exp(wide)), k}
}

func (k goodKey) name() string {
	if k.reversed {
		return k.rail + ", leads reversed"
	}
	return k.rail
}

func (k goodKey) say(g capture.GoodInterval) string {
	ohm := func(v float64) string { return capture.Ohm.Text(v, capture.Decade(v)/100) }
	out := fmt.Sprintf("%s: %s in the middle; 95 %% of such boards lie within %s to %s, with 95 %% confidence (%d boards, k = %.4g).", k.name(), ohm(g.Middle), ohm(g.Low), ohm(g.High), g.N, g.K)
	if g.N < wideBelow {
		out += " The interval is wide because the boards are few."
	}
	var odd []string
	for _, o := range g.Odd {
		odd = append(odd, o.Board+" ("+ohm(o.Ohms)+")")
	}
	if len(odd) > 0 {
		out += " Odd, held against the others: " + strings.Join(odd, ", ") + "."
	}
	return out
}

// wideBelow is how many boards bring k near its final 1.96 (below 8 it is more
// than twice that).
const wideBelow = 7

// OddBoards lists the boards that are odd on a rail, each once, the one that is
// odd on the most first.
func OddBoards(list []capture.GoodInterval) []string {
	count := map[string]int{}
	var names []string
	for _, g := range list {
		for _, o := range g.Odd {
			if count[o.Board] == 0 {
				names = append(names, o.Board)
			}
			count[o.Board]++
		}
	}
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(count[b], count[a]) })
	return names
}
