package sim

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// Steps is a quantity that jumps from one level to the next at known instants:
// Levels[i+1] holds from At[i] on. There is one level more than there are
// instants, which are in order.
type Steps struct {
	At     []capture.Instant
	Levels []float64
}

// mean is that over [from, to], exactly; of an instant, the level there.
func (s Steps) mean(from, to capture.Instant) float64 {
	if to <= from {
		to = from + 1
	}
	area, t := 0.0, from
	for i, level := range s.Levels {
		end := to
		if i < len(s.At) {
			end = min(s.At[i], to)
		}
		if end > t {
			area += level * float64(end-t)
			t = end
		}
	}
	return area / float64(to-from)
}

// What has no point on the board, for [Bench.Impose].
const (
	SupplyVolts  = "supply volts"  // at the bench supply's terminals
	Supply2Volts = "supply2 volts" // at every output of a [Supply2]
	LoadVolts    = "load volts"    // at the terminals of an [ELoad]
)

// Nodes beside the model's, which exist only while something is imposed.
const (
	nSupply2 = nodes + iota
	nLoad
)

// Impose lets instruments see steps at a point in place of what the model has
// there: what an instrument says and when it looked can then be told exactly. For
// [PointRoom] the thermometer sees them, without the delay of its bead. What
// ohmmeters find is not touched. For tests only.
func (b *Bench) Impose(what string, s Steps) error {
	n, isPoint := electricPoints[what]
	switch what {
	case SupplyVolts:
		n = nSupply
	case Supply2Volts:
		n = nSupply2
	case LoadVolts:
		n = nLoad
	case PointRoom:
		n = nBead
	default:
		if !isPoint || n < 0 {
			return fmt.Errorf("impose steps: no point %q", what)
		}
	}
	if len(s.Levels) != len(s.At)+1 {
		return fmt.Errorf("impose steps at %s: %d levels for %d instants", what, len(s.Levels), len(s.At))
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.world.past.imposed == nil {
		b.world.past.imposed = map[node]Steps{}
	}
	b.world.past.imposed[n] = s
	return nil
}

// seen is what an instrument finds at this moment where the model has real. The
// model runs up to a step ahead of the clock; what is imposed does not.
func (b *Bench) seen(n node, real float64) float64 {
	if s, ok := b.world.past.imposed[n]; ok {
		now := b.clock.Now()
		return s.mean(now, now)
	}
	return real
}

// lineTime is how long so many characters are on a line of the scenario's speed.
func (b *Bench) lineTime(characters int) time.Duration {
	if b.scenario.Baud <= 0 {
		return 0
	}
	return time.Duration(characters) * 10 * time.Second / time.Duration(b.scenario.Baud)
}
