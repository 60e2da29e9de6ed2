package diagnose

// predict returns the distribution of a measurement's outcomes under faults.
func (b Board) predict(at Point, f bunch, off stand) []float64 {
	switch at.Where {
	case Ohms:
		return b.ohms(at.Subject, f, off)
	case Volts:
		return b.volts(at.Subject, f, off, at.Hot)
	case Alone:
		return b.alone(at.Subject, f)
	case SourceAlone:
		return b.sourceAlone(at.Subject, f, off)
	case LoadAlone:
		return twoWays(!f.has(at.Subject, Shorted) && !f.has(at.Subject, Overloads))
	case Enabled:
		return twoWays(!f.has(at.Subject, NotEnabled))
	case Across:
		return twoWays(!f.has(at.Subject, InductorOpen))
	}
	return b.behind(at.Subject, f, off)
}

func twoWays(first bool) []float64 {
	if first {
		return []float64{0.98, 0.02}
	}
	return []float64{0.02, 0.98}
}

// spoken is how an indication weighs an explanation: two to one when the rail
// it blames would not be right, and no more, for a set blames the starved
// board as easily as the one that starves it (the project's choice).
func (b Board) spoken(rail string, f bunch, off stand) float64 {
	if b.volts(rail, f, off, true)[3] > 0.5 {
		return 1
	}
	return 2
}

// table is what a measurement would show under every explanation: many share
// one distribution, because their faults do not matter to it.
type table struct {
	group []int32     // of each explanation
	p     [][]float64 // of each group
	h     []float64   // entropy of each, bit
}

// foresee makes the table of a measurement, with the floor for surprises; it is
// remembered by what of the board's stand matters to the measurement.
func (g *Engine) foresee(at Point, off stand) *table {
	key := g.board.key(at, off, g.board.unloads)
	if known := g.seen[key]; known != nil {
		return known
	}
	t := &table{group: make([]int32, len(g.list))}
	matters := make([]bool, len(g.faults))
	for i, f := range g.faults {
		matters[i] = g.board.touched(at, f.Part)
	}
	groups := map[[2]int]int32{}
	for i, x := range g.list {
		which := relevant(x, matters)
		if n, known := groups[which]; known {
			t.group[i] = n
			continue
		}
		groups[which] = int32(len(t.p))
		t.group[i] = int32(len(t.p))
		t.p = append(t.p, g.expect(at, x, off))
	}
	t.h = entropies(t.p)
	g.seen[key] = t
	return t
}

func (g *Engine) expect(at Point, x Explanation, off stand) []float64 {
	if x.Other {
		return even(at.Where)
	}
	return surprised(g.board.predict(at, x.Faults, off))
}

// relevant names the faults of an explanation that matter, 0 for none.
func relevant(x Explanation, matters []bool) [2]int {
	if x.Other {
		return [2]int{-1, -1}
	}
	var out [2]int
	n := 0
	for _, i := range x.which {
		if matters[i] {
			out[n] = i + 1
			n++
		}
	}
	return out
}

// together adds up the probabilities of the explanations of each group.
func (t *table) together(p []float64) []float64 {
	out := make([]float64, len(t.p))
	for i, n := range t.group {
		out[n] += p[i]
	}
	return out
}

// even is what is expected of a fault that nobody has thought of.
func even(w Where) []float64 {
	n := len(outcomes(w))
	if n == 0 {
		n = cells
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = 1 / float64(n)
	}
	return out
}
