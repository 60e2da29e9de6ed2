package drivers

import (
	"encoding/hex"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/frames"
)

func openStream(b build) (Instrument, error) {
	return opened(frames.New(frames.Options{
		Info: b.info, Plan: b.model.Stream, Expect: b.cfg.Expect, Every: b.cfg.Every, Dial: b.dial, Baud: b.baud,
	}))
}

// streamFields are the keys of a model whose instrument talks by itself.
func (r *reader) streamFields(m *Model) []field {
	p := &m.Stream
	return []field{
		{"lines", false, func(n *yaml.Node) { r.textLines(n, p) }},
		{"segments", false, func(n *yaml.Node) { r.segments(n, p) }},
		{"ask", false, r.hexBytes(&p.Ask, "ask")},
		{"agree", false, r.integer(&p.Agree, "agree")},
		{"listen", false, r.span(&p.Listen, "listen")},
		{"channels", true, func(n *yaml.Node) { r.list(n, "channels", func(e *yaml.Node) { r.streamChannel(e, p) }) }},
	}
}

// streamWhole checks what only shows when all is read.
func (r *reader) streamWhole(n *yaml.Node, m *Model) {
	if l := m.Line; len(l.Opening) == 0 && (len(l.Closing) > 0 || m.Select != "") {
		r.wrong(n, "line: closing and select are of instruments that listen: say how it begins in opening")
	}
	if len(r.problems) > 0 {
		return // Check would tell the same once more, without the line
	}
	if err := m.Stream.Check(); err != nil {
		r.wrong(n, "%v", err)
	}
}

func (r *reader) streamChannel(n *yaml.Node, p *frames.Plan) {
	var c frames.Channel
	r.mapping(n, "channel", r.described(&c.Info)...)
	r.distinct(n, c.Info, slices.ContainsFunc(p.Channels, func(o frames.Channel) bool { return o.Info.ID == c.Info.ID }))
	p.Channels = append(p.Channels, c)
}

func (r *reader) textLines(n *yaml.Node, p *frames.Plan) {
	l := &frames.Lines{}
	before := len(r.problems)
	r.mapping(n, "lines",
		field{"pattern", true, r.text(&l.Pattern, "pattern")},
		field{"units", true, func(n *yaml.Node) { r.list(n, "units", func(e *yaml.Node) { r.shownUnit(e, l) }) }},
		field{"words", false, func(n *yaml.Node) { r.list(n, "words", func(e *yaml.Node) { r.shownWord(e, l) }) }},
		field{"decimal", false, r.decimal(&l.Mark)},
	)
	if err := l.Check(); err != nil && len(r.problems) == before {
		r.wrong(n, "lines: %v", err)
	}
	p.Lines = l
}

func (r *reader) shownUnit(n *yaml.Node, l *frames.Lines) {
	var u frames.Unit
	r.mapping(n, "unit",
		field{"text", true, r.mayBeEmpty(&u.Text, "text")},
		field{"quantity", true, r.quantity(&u.Quantity, "quantity")},
		field{"unit", false, r.text(&u.Unit, "unit")},
	)
	l.Units = append(l.Units, u)
}

func (r *reader) shownWord(n *yaml.Node, l *frames.Lines) {
	var w frames.Word
	r.mapping(n, "word",
		field{"text", true, r.text(&w.Text, "text")},
		field{"means", true, func(n *yaml.Node) {
			r.text(&w.Means, "means")(n)
			if !slices.Contains(frames.Meanings(), w.Means) && w.Means != "" {
				r.wrong(n, "means: %q is not known: use %s", w.Means, strings.Join(frames.Meanings(), ", "))
			}
		}},
	)
	l.Words = append(l.Words, w)
}

func (r *reader) segments(n *yaml.Node, p *frames.Plan) {
	s := &frames.Segments{}
	r.mapping(n, "segments",
		field{"celsius", false, r.integer(&s.Celsius, "celsius")},
		field{"held", false, r.integer(&s.Held, "held")},
		field{"nothing", false, r.integer(&s.Nothing, "nothing")},
	)
	p.Segments = s
}

// mayBeEmpty is text that may be there and empty.
func (r *reader) mayBeEmpty(to *string, what string) func(*yaml.Node) {
	return func(n *yaml.Node) { *to, _ = r.scalar(n, what) }
}

func (r *reader) decimal(to *capture.DecimalMark) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, "decimal")
		if !ok {
			return
		}
		mark, err := capture.ParseDecimalMark(s)
		if err != nil {
			r.wrong(n, "decimal: %v", err)
		}
		*to = mark
	}
}

// hexBytes reads bytes in hexadecimal, spaced or not: "44 0D".
func (r *reader) hexBytes(to *[]byte, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
		if err != nil || len(b) == 0 {
			r.wrong(n, "%s: %q: want bytes in hexadecimal, such as \"44 0D\"", what, s)
		}
		*to = b
	}
}
