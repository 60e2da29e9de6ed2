package block

import "math/bits"

// histogram counts numbers by their length in bits, and keeps the largest of
// each length.
type histogram struct {
	count [65]int
	most  [65]uint64
}

func (h *histogram) add(u uint64) {
	l := bits.Len64(u)
	h.count[l]++
	h.most[l] = max(h.most[l], u)
}

// choice returns the cheapest of a code for each number, of numbers below a
// bound, and of runs.
func (h *histogram) choice() choice {
	n := 0
	for _, count := range h.count {
		n += count
	}
	events := n - h.count[0]
	if events == 0 {
		return choice{code: codeRuns}
	}
	k, cost := h.best()
	c := choice{code: codeRice, k: k, cost: cost}
	if _, cost := h.bound(n); cost < c.cost {
		c = choice{code: codeBound, cost: cost}
	}
	less := *h // by one: of 1 nothing is left, other lengths stay about the same
	less.count[0], less.count[1] = h.count[1], 0
	k, cost = less.best()
	// A gap takes about the length of the usual gap and one bit more.
	if cost += events * (bits.Len(uint(n/events)) + 1); cost < c.cost {
		c = choice{code: codeRuns, k: k, cost: cost}
	}
	return c
}

// bound returns the bound that suits n numbers best, and their bits under it,
// taking them as spread evenly. It lies above all numbers of some length; the
// longer ones are escaped.
func (h *histogram) bound(n int) (bound uint64, cost int) {
	cost = int(^uint(0) >> 1)
	within := 0
	for l, count := range h.count[:mostBoundBits] {
		if within += count; count == 0 {
			continue
		}
		b := h.most[l] + 2
		short, cut := bounded(b)
		long := int(float64(n) * float64(b-cut) / float64(b))
		if bits := n*int(short) + long + (n-within)*64; bits < cost {
			bound, cost = b, bits
		}
	}
	return bound, cost
}

// best returns the Rice parameter that suits the numbers, and their bits under
// it, taking them as spread evenly among those of the same length.
func (h *histogram) best() (k uint, cost int) {
	top := uint(64)
	for top > 0 && h.count[top] == 0 {
		top--
	}
	cost = int(^uint(0) >> 1)
	for t := h.least(); t <= min(top, 63); t++ {
		twice := 0
		for l, count := range h.count[:top+1] {
			twice += count * twiceBits(uint(l), t)
		}
		if twice/2 < cost {
			k, cost = t, twice/2
		}
	}
	return k, cost
}

// least returns a parameter below which none can suit: when the code of half the
// numbers loses more bits in unary than it saves.
func (h *histogram) least() uint {
	n, half := 0, 0
	for _, count := range h.count {
		n += count
	}
	for l, count := range h.count {
		if half += count; 2*half >= n {
			return uint(max(0, l-4))
		}
	}
	return 0
}

// twiceBits is twice the mean length of the code of numbers of l bits.
func twiceBits(l, k uint) int {
	plain := 2 * (int(k) + 1)
	switch {
	case l <= k:
		return plain
	case l-k <= 4: // the quotients 1; 2 and 3; 4 to 7; 8 to 15
		return plain + 3<<(l-k-1) - 1
	case l-k == 5: // of 16 to 31 the half is escaped
		return plain/2 + 19 + escaped
	default:
		return 2 * escaped
	}
}
