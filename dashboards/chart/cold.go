package chart

import (
	"slices"

	"steadyrail/capture"
)

// Span is a stretch of time. To is 0 while it lasts.
type Span struct{ From, To capture.Instant }

func (s Span) meets(from, to capture.Instant) bool {
	return s.From <= to && (s.To == 0 || from < s.To)
}

// powered parts the runs into those of a rail under power and those without. What
// lies below the band while there is no power is no fall, nor is what follows until
// the rail has come up. A stretch in which an alarm of its voltage was raised stays
// with what was under power: there it fell.
func (m RailModel) powered(runs [][]row, b band) (fed, cold [][]row) {
	down := false // without power, and not come up since
	for _, run := range runs {
		is := make([]bool, len(run))
		for i, r := range run {
			is[i] = b.below(r.min) && !m.fell(r) && (down || m.without(r))
			down = is[i] && b.below(r.max) || m.without(r)
		}
		from := 0
		for i := 1; i <= len(run); i++ {
			was := is[from]
			if i < len(run) && is[i] == was {
				continue
			}
			if was {
				cold = append(cold, run[from:i])
			} else {
				fed = append(fed, run[from:i])
			}
			from = i
		}
	}
	return fed, cold
}

// fell reports whether an alarm of the rail's voltage was raised in a stretch.
func (m RailModel) fell(r row) bool {
	return slices.ContainsFunc(m.Fell, func(at capture.Instant) bool { return at >= r.from && at <= r.to })
}

func (m RailModel) without(r row) bool {
	for _, s := range m.Cold {
		if s.meets(r.from, r.to) {
			return true
		}
	}
	return false
}

// unpowered draws what was read without power: soft, and where it left the frame a
// line along its foot.
func (s *strip) unpowered(f *frame) {
	if len(s.cold) == 0 {
		return
	}
	f.open("g", at{"clip-path", f.clip(f.left, s.top, f.right-f.left, s.bottom-s.top)})
	for _, run := range s.cold {
		s.run(f, run, " cold")
	}
	f.shut("g")
	for _, run := range s.cold {
		x1, x2 := f.x(run[0].at), f.x(run[len(run)-1].at)
		lo, _ := extremes([][]row{run})
		if lo >= s.lo {
			continue
		}
		f.line("c-cold", x1, s.bottom-2, max(x2, x1+5), s.bottom-2)
		words, half := "without power", wide("without power", f.text)/2
		x := min(max((x1+x2)/2, f.left+half), f.right-half)
		if b := (box{x - half, x + half, s.bottom - 8*f.k}); !b.hits(s.taken, f.text) {
			s.taken = append(s.taken, b)
			f.say("halo", "middle", x, b.y, words)
		}
	}
}
