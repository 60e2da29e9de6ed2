package chart

import (
	"strings"

	"steadyrail/capture"
)

const traceW, traceH = 200.0, 60.0

// drawTrace says "steady or not" beside a number: band behind, no axis. The
// chart says the rest.
func drawTrace(m TraceModel) *pen {
	p := &pen{}
	from, to := window(m.From, m.To, m.Series)
	b := bandOf(m.Rail)
	lo, hi := b.target-1.5*b.reach, b.target+1.5*b.reach
	y := func(v float64) float64 { return min(traceH, max(0, traceH-(v-lo)/(hi-lo)*traceH)) }
	x := func(t capture.Instant) float64 { return float64(t-from) / float64(to-from) * traceW }

	p.open("svg", at{"class", "trace", "viewBox", "0 0 200 60", "preserveAspectRatio", "none", "aria-hidden", "true", "focusable", "false"})
	if b.hasLow || b.hasHigh {
		top, bottom := 0.0, traceH
		if b.hasHigh {
			top = y(b.high)
		}
		if b.hasLow {
			bottom = y(b.low)
		}
		p.rect("tb", 0, top, traceW, bottom-top)
	}
	p.shape("line", "tt", at{"x1", "0", "x2", "200", "y1", num(y(b.target)), "y2", num(y(b.target)), "vector-effect", "non-scaling-stroke"})
	runs, _ := split(m.Series, b.sign, m.Every, nil)
	for _, run := range runs {
		run = squeeze(within(run, from, to), from, to, int(traceW))
		var d strings.Builder
		for i, r := range run {
			d.WriteString(pick(i == 0, "M", "L") + num(x(r.at)) + " ")
			// A dip inside a column must show: go down to it and back.
			if r.max-r.min > b.reach/2 {
				d.WriteString(num(y(r.max)) + "V" + num(y(r.min)) + "V")
			}
			d.WriteString(num(y(r.mean)))
		}
		if len(run) == 1 {
			d.WriteString("h.1")
		}
		if len(run) > 0 {
			p.shape("path", "tl", at{"d", d.String(), "vector-effect", "non-scaling-stroke"})
		}
	}
	p.shut("svg")
	return p
}

func pick(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}
