package chart

import (
	"cmp"
	"slices"

	"steadyrail/capture"
)

// excursion is one stretch in which readings left the frame.
type excursion struct {
	at    capture.Instant
	worst float64
	up    bool
}

// excursions finds them, the worst reading of each, worst first.
func (s *strip) excursions() []excursion {
	var out []excursion
	for _, run := range s.runs {
		down, up := -1, -1 // index of the excursion under way
		for _, r := range run {
			down = note(&out, down, excursion{r.at, r.min, false}, r.min < s.lo)
			up = note(&out, up, excursion{r.at, r.max, true}, r.max > s.hi)
		}
	}
	slices.SortStableFunc(out, func(a, b excursion) int { return cmp.Compare(s.far(b), s.far(a)) })
	return out
}

func note(out *[]excursion, open int, e excursion, is bool) int {
	if !is {
		return -1
	}
	if open < 0 {
		*out = append(*out, e)
		return len(*out) - 1
	}
	if was := &(*out)[open]; e.up && e.worst > was.worst || !e.up && e.worst < was.worst {
		*was = e
	}
	return open
}

func (s *strip) far(e excursion) float64 {
	if e.up {
		return e.worst - s.hi
	}
	return s.lo - e.worst
}

// cut gives what was cut at the frame its figure back. Where figures would
// lie on one another the worst stays.
func (s *strip) cut(f *frame) {
	for _, e := range s.excursions() {
		words := pick(e.up, "up to ", "down to ") + volts(s.band.sign*e.worst, s.resolution)
		x, y := f.x(e.at), s.bottom-8*f.k
		if e.up {
			y = s.top + 32*f.k
		}
		anchor, b := "start", box{x + 9*f.k, x + 9*f.k + wide(words, f.text), y}
		if x > (f.left+f.right)/2 {
			anchor, b = "end", box{x - 9*f.k - wide(words, f.text), x - 9*f.k, y}
		}
		if b.hits(s.taken, f.text) {
			continue
		}
		// How wide a face prints bold is only estimated: a height of room about it.
		s.taken = append(s.taken, box{b.x1 - f.text, b.x2 + f.text, y})
		f.say("bad halo", anchor, pickNum(anchor == "start", b.x1, b.x2), y, words)
	}
}

// box is the room a label takes on its line.
type box struct{ x1, x2, y float64 }

func (b box) hits(taken []box, height float64) bool {
	for _, t := range taken {
		if b.x1 < t.x2 && t.x1 < b.x2 && b.y-t.y < height && t.y-b.y < height {
			return true
		}
	}
	return false
}

func pickNum(cond bool, yes, no float64) float64 {
	if cond {
		return yes
	}
	return no
}
