package rules

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
)

// heatEvents is how many events it takes before their rate is held against a
// temperature, and heatLevel the chance below which the difference is told.
const (
	heatEvents = 5
	heatLevel  = 0.05
)

// heatSay tells whether events came more often above the median of a
// temperature than below it. Given their number, the events of a process that
// the temperature leaves alone fall into the two by the time spent in each: the
// exact conditional test for two Poisson rates (Przyborowski and Wilenski,
// Biometrika 31 (1940) 313). Events at times without a temperature do not count.
func heatSay(temps []capture.Bucket, events []capture.Instant) string {
	median := medianOf(temps)
	var hot, cold time.Duration
	var inHot, inCold int
	for _, b := range temps {
		if b.N == 0 {
			continue
		}
		span, n := &cold, &inCold
		if b.Mean > median {
			span, n = &hot, &inHot
		}
		*span += b.To.Sub(b.From)
		for _, at := range events {
			if at >= b.From && at < b.To {
				*n++
			}
		}
	}
	switch total := inHot + inCold; {
	case total == 0:
		return ""
	case total < heatEvents || hot <= 0 || cold <= 0:
		return fmt.Sprintf("%d collapses while it was read: too few events to tell whether heat brings them", total)
	}
	p := binomialTest(inHot, inHot+inCold, float64(hot)/float64(hot+cold))
	say := fmt.Sprintf("%d collapses in %s above its median of %s, %d in %s below", inHot, coverage.Long(hot), capture.Celsius.Text(median, 0.1), inCold, coverage.Long(cold))
	if p >= heatLevel {
		return say + fmt.Sprintf(": chance alone does as much in %.0f of 100 cases", 100*p)
	}
	return say + fmt.Sprintf(": chance alone does as much in %.2g of 100 cases; that it is the heat itself is not shown", 100*p)
}

func medianOf(temps []capture.Bucket) float64 {
	var list []float64
	for _, b := range temps {
		if b.N > 0 {
			list = append(list, b.Mean)
		}
	}
	return trend.Median(list)
}

// binomialTest is the chance of an outcome no likelier than k of n when each
// comes with chance p: the exact two-sided test. Probabilities are taken relative
// to the likeliest outcome, by ratios of neighbours, so that none runs out of
// range and no logarithm is needed.
func binomialTest(k, n int, p float64) float64 {
	mode := min(n, int(float64(n+1)*p))
	weight := make([]float64, n+1)
	weight[mode] = 1
	odds := p / (1 - p)
	for i := mode; i < n; i++ {
		weight[i+1] = weight[i] * float64(n-i) / float64(i+1) * odds
	}
	for i := mode; i > 0; i-- {
		weight[i-1] = weight[i] * float64(i) / float64(n-i+1) / odds
	}
	var all, far float64
	for _, w := range weight {
		all += w
		if w <= float64(weight[k]*(1+1e-9)) { // equal ones count, whatever the last bit says
			far += w
		}
	}
	return far / all
}

// heat tells it of every temperature that was watched.
func (b *builder) heat() {
	var events []capture.Instant
	for _, t := range b.transitions {
		if t.Kind == "collapse" && t.To.IsActive() && !t.From.IsActive() {
			events = append(events, t.At)
		}
	}
	for i := range b.out.Points {
		w := &b.out.Points[i]
		if info, known := b.out.Roster.Channel(w.Channel); known && info.Quantity == capture.Temperature {
			w.Heat = heatSay(w.Series, events)
			b.tellHeat(*w)
		}
	}
}

// tellHeat puts it among the sentences of the soak.
func (b *builder) tellHeat(w capture.Watch) {
	if w.Heat == "" || b.out.Soak == nil {
		return
	}
	name := w.Point
	if name == "" {
		name = string(w.Channel)
	}
	b.out.Soak.Say = append(b.out.Soak.Say, "Temperature of "+name+": "+w.Heat+".")
}
