package chart

import (
	"html"
	"math"
	"strconv"
	"strings"
)

// pen writes SVG: numbers short and always the same, text always escaped.
type pen struct{ strings.Builder }

// num prints a coordinate with at most one decimal. What is no number, or lies
// absurdly far out, is pinned: a drawing must stay a drawing.
func num(v float64) string {
	switch {
	case math.IsNaN(v):
		v = 0
	case v > 99999:
		v = 99999
	case v < -99999:
		v = -99999
	}
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// at is a list of attribute names and values, in turn.
type at []string

func (p *pen) attrs(a at) {
	for i := 0; i+1 < len(a); i += 2 {
		p.WriteString(" " + a[i] + `="` + html.EscapeString(a[i+1]) + `"`)
	}
}

func (p *pen) open(tag string, a at) {
	p.WriteString("<" + tag)
	p.attrs(a)
	p.WriteString(">")
}

func (p *pen) shut(tag string) { p.WriteString("</" + tag + ">") }

// shape writes an empty element of a class, with the paint that stands in
// where the style sheet is missing.
func (p *pen) shape(tag, class string, a at) {
	p.WriteString("<" + tag)
	if class != "" {
		p.attrs(at{"class", class})
		p.attrs(paint[class])
	}
	p.attrs(a)
	p.WriteString("/>")
}

func (p *pen) line(class string, x1, y1, x2, y2 float64) {
	p.shape("line", class, at{"x1", num(x1), "y1", num(y1), "x2", num(x2), "y2", num(y2)})
}

func (p *pen) rect(class string, x, y, w, h float64) {
	p.shape("rect", class, at{"x", num(x), "y", num(y), "width", num(w), "height", num(h)})
}

// say writes a line of text; anchor is start, middle or end.
func (p *pen) say(class, anchor string, x, y float64, words string) {
	a := at{}
	if class != "" {
		a = append(at{"class", class}, paint[class]...)
	}
	a = append(a, "x", num(x), "y", num(y))
	if anchor != "start" {
		a = append(a, "text-anchor", anchor)
	}
	p.open("text", a)
	p.WriteString(html.EscapeString(words))
	p.shut("text")
}

func (p *pen) tag(tag string, a at, words string) {
	p.open(tag, a)
	p.WriteString(html.EscapeString(words))
	p.shut(tag)
}

const (
	inside  = "var(--inside,#0b5a78)"
	outside = "var(--outside,#ad2a0c)"
	vial    = "var(--vial,#dfebee)"
	ink     = "var(--ink,#1d1a15)"
	soft    = "var(--soft,#5a5348)"
	hair    = "var(--hair,#dcd5c5)"
	edge    = "var(--edge,#857c6c)"
	paper   = "var(--paper,#fff)"
)

// paint is what the classes look like without the style sheet. A class rule of
// a sheet wins over these, for they are presentation attributes.
var paint = map[string]at{
	"c-band":      {"fill", vial},
	"c-edge":      {"stroke", inside, "stroke-width", "1.25"},
	"c-target":    {"stroke", inside, "stroke-width", "1.25", "stroke-dasharray", "1 5", "stroke-linecap", "round"},
	"c-env":       {"fill", inside, "fill-opacity", ".38"},
	"c-env out":   {"fill", outside, "fill-opacity", ".75"},
	"c-mean":      {"fill", "none", "stroke", ink, "stroke-width", "1.75", "stroke-linejoin", "round"},
	"c-mean out":  {"fill", "none", "stroke", outside, "stroke-width", "2.5", "stroke-linejoin", "round"},
	"c-dot":       {"fill", ink},
	"c-dot out":   {"fill", outside},
	"c-env cold":  {"fill", soft, "fill-opacity", ".38"},
	"c-mean cold": {"fill", "none", "stroke", soft, "stroke-width", "1.75", "stroke-linejoin", "round"},
	"c-dot cold":  {"fill", soft},
	"c-cold":      {"stroke", soft, "stroke-width", "2.5", "stroke-dasharray", "2 4"},
	"c-grid":      {"stroke", hair, "stroke-width", "1"},
	"c-axis":      {"stroke", edge, "stroke-width", "1"},
	"c-hatch":     {"stroke", soft, "stroke-width", "2.5"},
	"c-event":     {"stroke", outside, "stroke-width", "1.5"},
	"c-flag":      {"fill", outside},
	"c-flag note": {"fill", paper, "stroke", soft, "stroke-width", "1.75"},
	"strong":      {"fill", ink, "font-weight", "700"},
	"strong halo": {"fill", ink, "font-weight", "700", "paint-order", "stroke", "stroke", paper, "stroke-width", "4", "stroke-linejoin", "round"},
	"bad":         {"fill", outside, "font-weight", "700"},
	"bad halo":    {"fill", outside, "font-weight", "700", "paint-order", "stroke", "stroke", paper, "stroke-width", "4", "stroke-linejoin", "round"},
	"halo":        {"paint-order", "stroke", "stroke", paper, "stroke-width", "4", "stroke-linejoin", "round"},
	"tb":          {"fill", vial},
	"tt":          {"stroke", inside, "stroke-opacity", ".55"},
	"tl":          {"fill", "none", "stroke", ink, "stroke-width", "2", "stroke-linejoin", "round"},
	"tl dot":      {"stroke", ink, "stroke-width", "3", "stroke-linecap", "round"},
}

// wide estimates the width of words: narrow enough to use the room, wide
// enough never to run into a neighbour in the faces of the sheet.
func wide(words string, size float64) float64 {
	n := 0
	for range words {
		n++
	}
	return float64(n) * size * 0.58
}

// slug makes an element id out of a rail's name.
func slug(name string) string {
	return "c-" + safe(strings.NewReplacer("+", "p", "-", "n", "−", "n").Replace(name))
}

// safe leaves of an id what needs no quoting in url(#id).
func safe(id string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-':
			return r
		}
		return -1
	}, id)
}
