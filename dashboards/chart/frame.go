package chart

import (
	"strconv"

	"steadyrail/capture"
)

// frame is the ground of a drawing: sizes, the time axis, and what is needed
// to draw a strip on it.
type frame struct {
	*pen
	id                    string
	width, height         float64
	left, right           float64 // of the strips
	from, to              capture.Instant
	text                  float64 // size of letters
	k                     float64 // text size over the 13 the measures were chosen for
	hatched, clipsWritten int
}

func (f *frame) x(t capture.Instant) float64 {
	return f.left + float64(t-f.from)/float64(f.to-f.from)*(f.right-f.left)
}

func (f *frame) columns() int { return max(40, int(f.right-f.left)) }

// begin opens the element with its accessible name and a description in words.
func (f *frame) begin(class, title, desc string) {
	f.open("svg", at{
		"xmlns", "http://www.w3.org/2000/svg", "class", class, "viewBox", "0 0 " + num(f.width) + " " + num(f.height),
		"role", "img", "aria-labelledby", f.id + "-t " + f.id + "-d", "font-size", num(f.text), "fill", soft,
	})
	f.tag("title", at{"id", f.id + "-t"}, title)
	f.tag("desc", at{"id", f.id + "-d"}, desc)
	f.open("defs", nil)
	f.open("pattern", at{"id", f.id + "-h", "width", "7", "height", "7", "patternUnits", "userSpaceOnUse", "patternTransform", "rotate(45)"})
	f.line("c-hatch", 0, 0, 0, 7)
	f.shut("pattern")
	f.shut("defs")
}

// clip writes a clip path and returns the reference to it.
func (f *frame) clip(x, y, w, h float64) string {
	f.clipsWritten++
	id := f.id + "-" + strconv.Itoa(f.clipsWritten)
	f.open("clipPath", at{"id", id})
	f.rect("", x, y, w, max(0, h))
	f.shut("clipPath")
	return "url(#" + id + ")"
}

// hatch marks a stretch that nobody watched. It is at least five units wide, so
// that a short hole of a long soak can be seen.
func (f *frame) hatch(h hole, top, bottom float64, title string) {
	if h.to < f.from || h.from > f.to {
		return
	}
	x1, x2 := max(f.left, f.x(h.from)), min(f.right, f.x(h.to))
	if x2-x1 < 5 {
		x1 = min(max(f.left, (x1+x2)/2-2.5), f.right-5)
		x2 = x1 + 5
	}
	f.hatched++
	f.open("rect", at{"class", "c-blind", "fill", "url(#" + f.id + "-h)", "x", num(x1), "y", num(top), "width", num(x2 - x1), "height", num(bottom - top)})
	f.tag("title", nil, title)
	f.shut("rect")
}
