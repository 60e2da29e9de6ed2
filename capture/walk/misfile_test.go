package walk

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
)

// traces is how many walks are walked.
const traces = 10_000

// outcome is what walks came to.
type outcome struct {
	done, right int
	wrong       []string
	took        []float64 // s, of each figure
	stats       map[string]int
}

func (o *outcome) add(p outcome) {
	o.done, o.right = o.done+p.done, o.right+p.right
	o.wrong, o.took = append(o.wrong, p.wrong...), append(o.took, p.took...)
	for k, n := range p.stats {
		o.stats[k] += n
	}
}

// Ten thousand walks with bounces, early lifts, wrong touches, slips, staying on,
// drift, noise, charging capacitors, inputs that hold their volts, cables that
// are pulled and supplies that are switched: no reading stands under a rail that
// is not the rail's.
func TestNothingIsMisfiled(t *testing.T) {
	t.Parallel()
	all := outcome{stats: map[string]int{}}
	var mu sync.Mutex
	var walking sync.WaitGroup
	for part := range uint64(4) {
		walking.Go(func() {
			o := outcome{stats: map[string]int{}}
			for seed := part; seed < traces; seed += 4 {
				o.add(oneWalk(seed))
			}
			mu.Lock()
			defer mu.Unlock()
			all.add(o)
		})
	}
	walking.Wait()
	slices.Sort(all.took)
	t.Logf("%d walks, %d through in time; %d figures, %d readings filed, %d misfiled; median %.1f s a figure", traces, all.done, len(all.took), all.right, len(all.wrong), all.took[len(all.took)/2])
	for _, what := range slices.Sorted(maps.Keys(all.stats)) {
		t.Logf("%6d %s", all.stats[what], what)
	}
	for _, w := range all.wrong {
		t.Error(w)
	}
	for _, what := range []string{"stayed on", "wrong touch", "wrong until the beep", "taken back", "early lift", "slid off", "supply", "skip", "unplugged", "at least", "waited for"} {
		if all.stats[what] < 100 {
			t.Errorf("%s happened %d times: that is no test of it", what, all.stats[what])
		}
	}
	if all.done < traces*9/10 || all.right < 10*traces {
		t.Errorf("%d of %d came through, %d readings filed", all.done, traces, all.right)
	}
}

func oneWalk(seed uint64) outcome {
	b, tech := anyWalk(rand.New(rand.NewPCG(seed, 41)))
	o := outcome{stats: map[string]int{}}
	tech.stats = o.stats
	for i := 0; i < 13_000 || tech.wrong && i < 15_000; i++ { // two minutes and a bit, and until the beep at a wrong point was heard
		if b.pass(); b.m.state == over {
			o.done = 1
			break
		}
		tech.look()
		hazard(b, o.stats)
	}
	b.carry(b.m.Stop(b.now, "out of time"))
	o.wrong, o.right = b.misfiled()
	for i, w := range o.wrong {
		o.wrong[i] = fmt.Sprintf("walk %d: %s", seed, w)
	}
	o.took = b.took
	return o
}
