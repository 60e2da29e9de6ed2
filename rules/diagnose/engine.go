package diagnose

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"steadyrail/capture/elementary"
)

// ErrEntry is wrapped when an entry does not go with the board.
var ErrEntry = errors.New("does not go with the board sheet")

// mostEntries is what contradictions can be looked for in; a repair seldom
// takes thirty.
const mostEntries = 64

// Explanation is a set of faults, or what is not on the sheet.
type Explanation struct {
	Faults []Fault `json:"faults,omitempty"`
	Other  bool    `json:"other,omitempty"`
	which  []int   // the faults by number
}

// Engine weighs the explanations of one board.
type Engine struct {
	board  Board
	faults []Fault
	list   []Explanation // other last
	prior  []float64
	says   []string
	seen   map[string]*table
}

// New makes the engine of a board.
func New(b Board) *Engine {
	g := &Engine{board: b, faults: b.Faults(), seen: map[string]*table{}}
	g.add(Explanation{}, priorNone)
	g.addWeighed(singles(g.faults), priorSingle)
	g.addWeighed(pairs(g.faults), priorPair)
	g.add(Explanation{Other: true}, priorOther)
	return g
}

func (g *Engine) add(x Explanation, prior float64) {
	g.list = append(g.list, x)
	g.prior = append(g.prior, prior)
	g.says = append(g.says, g.board.say(x))
}

// addWeighed shares a prior among explanations, equally unless the sheet says
// that a fault is more usual.
func (g *Engine) addWeighed(list []Explanation, prior float64) {
	var sum float64
	weights := make([]float64, len(list))
	for i, x := range list {
		weights[i] = g.board.times(x.Faults)
		sum += weights[i]
	}
	for i, x := range list {
		g.add(x, float64(prior*weights[i])/sum)
	}
}

func (b Board) times(faults []Fault) float64 {
	w := 1.0
	for _, f := range faults {
		for _, p := range b.Priors {
			if p.Part == f.Part && p.Kind == f.Kind {
				w *= p.Times
			}
		}
	}
	return w
}

func singles(faults []Fault) []Explanation {
	var out []Explanation
	for i, f := range faults {
		out = append(out, Explanation{Faults: []Fault{f}, which: []int{i}})
	}
	return out
}

// pairs lists two faults at once; a part that failed in two ways is one fault.
func pairs(faults []Fault) []Explanation {
	var out []Explanation
	for i, f := range faults {
		for k, e := range faults[i+1:] {
			if e.Part != f.Part {
				out = append(out, Explanation{Faults: []Fault{f, e}, which: []int{i, i + 1 + k}})
			}
		}
	}
	return out
}

// Ranked is an explanation with its probability.
type Ranked struct {
	Explanation
	P   float64 `json:"probability"`
	Say string  `json:"say"`
}

// Result is what follows from a log.
type Result struct {
	Ranked         []Ranked        `json:"explanations"`
	TwoByTwo       []TwoByTwo      `json:"two_by_two,omitempty"`
	Next           *Step           `json:"next,omitempty"`
	Contradictions []Contradiction `json:"contradictions,omitempty"`
	Sensitivity    string          `json:"sensitivity"`
	Minutes        float64         `json:"minutes"` // of the work in the log, as reckoned
}

// Weigh ranks the explanations of a log, names its contradictions, and says
// what to measure next. The error wraps [ErrEntry].
func (g *Engine) Weigh(log []Entry) (Result, error) {
	if len(log) > mostEntries {
		return Result{}, fmt.Errorf("%d entries: %d at most can be held against each other: %w", len(log), mostEntries, ErrEntry)
	}
	logL, left := g.likelihoods(log)
	p := bounded(Posterior(g.prior, logL))
	r := Result{Ranked: g.rank(p), TwoByTwo: g.board.twoByTwo(log), Contradictions: contradictions(left, log)}
	g.board.figures(r.Contradictions, log)
	r.Ranked = temper(r.Ranked, len(r.Contradictions) > 0)
	r.Sensitivity = sensitivity(r.Ranked)
	r.Next = g.next(p, log)
	r.Minutes = g.board.minutes(log)
	return r, nil
}

func (g *Engine) rank(p []float64) []Ranked {
	out := make([]Ranked, len(p))
	for i, x := range g.list {
		out[i] = Ranked{Explanation: x, P: p[i], Say: g.says[i]}
	}
	slices.SortStableFunc(out, func(a, b Ranked) int { return cmp.Compare(b.P, a.P) })
	return out
}

// likelihoods returns the logarithm of each explanation's likelihood, and the
// set of entries that it does not explain.
func (g *Engine) likelihoods(log []Entry) (logL []float64, left []Set) {
	logL = make([]float64, len(g.list))
	left = make([]Set, len(g.list)-1)
	var off stand
	for n, e := range log {
		off = off.after(e)
		if e.Verb != "" {
			continue
		}
		if e.At.Where == Says {
			g.hear(e, log, off, logL)
			continue
		}
		g.hold(n, e, off, logL, left)
	}
	return logL, left
}

// hold weighs all explanations by one measurement, the n-th entry.
func (g *Engine) hold(n int, e Entry, off stand, logL []float64, left []Set) {
	w, t := g.board.weigh(e), g.foresee(e.At, off)
	logs, surprises := make([]float64, len(t.p)), make([]bool, len(t.p))
	for i, p := range t.p {
		like, floor := likelihood(p, w)
		logs[i], surprises[i] = elementary.Log(like), like < 3*floor
	}
	for i, group := range t.group {
		logL[i] += logs[group]
		if surprises[group] && !g.list[i].Other {
			left[i] |= SetOf(n)
		}
	}
}

// likelihood is Σ p·w; floor is what surprises alone would give.
func likelihood(p, w []float64) (like, floor float64) {
	var sum float64
	for c := range p {
		like += float64(p[c] * w[c])
		sum += w[c]
	}
	return max(like, 1e-12), float64(surprise*sum) / float64(len(p))
}

// hear weighs an indication, which counts for nothing once the rail that it
// blames was measured.
func (g *Engine) hear(e Entry, log []Entry, off stand, logL []float64) {
	measured := slices.ContainsFunc(log, func(m Entry) bool {
		return m.At.Subject == e.At.Subject && (m.At.Where == Volts || m.At.Where == Ohms)
	})
	if measured {
		return
	}
	for i, x := range g.list {
		if !x.Other {
			logL[i] += elementary.Log(g.board.spoken(e.At.Subject, x.Faults, off))
		}
	}
}
