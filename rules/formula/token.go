package formula

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"steadyrail/capture"
)

type sort byte

// The sorts of token. The signs of the grammar stand for themselves.
const (
	end     sort = 0
	number  sort = 'n'
	channel sort = 'c'
	name    sort = 'f'
)

// token is a part of the text. A number's text is its digits.
type token struct {
	sort   sort
	text   string
	unit   string // of a number, as the grammar writes it
	offset int    // in bytes
	unitAt int    // offset of the unit
}

var (
	digitsForm = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?`)
	bareForm   = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*(/[A-Za-z0-9_]+)+`)
	wordForm   = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*`)
	// unitForm is whatever letters stand behind a number; whether they are a
	// unit is asked later, so that the answer can name them.
	unitForm = regexp.MustCompile(`^ *([\pL%°Ω]+)`)
	wholeRef = regexp.MustCompile(`^[^"/\pC]+(/[^"/\pC]+)+$`)
)

func control(r rune) bool { return unicode.IsControl(r) }

// tokens takes a text apart.
func tokens(text string) ([]token, error) {
	switch {
	case len(text) > MostText:
		return nil, &Error{text, 1, "the formula is longer than a page: split it"}
	case !utf8.ValidString(text) || strings.ContainsFunc(text, control):
		return nil, &Error{text, 1, "the formula holds characters that are no text"}
	}
	var out []token
	for at := 0; ; {
		at += len(text[at:]) - len(strings.TrimLeft(text[at:], " "))
		if at == len(text) {
			return append(out, token{sort: end, offset: at}), nil
		}
		t, size, err := next(text, at)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
		at += size
	}
}

// next returns the token at an offset and how many bytes it takes.
func next(text string, at int) (token, int, error) {
	rest := text[at:]
	if strings.IndexByte("+-*/(),", rest[0]) >= 0 {
		return token{sort: sort(rest[0]), text: rest[:1], offset: at}, 1, nil
	}
	if rest[0] == '"' {
		return quoted(text, at)
	}
	if bare := bareForm.FindString(rest); bare != "" {
		return token{sort: channel, text: bare, offset: at}, len(bare), nil
	}
	if word := wordForm.FindString(rest); word != "" {
		return token{sort: name, text: word, offset: at}, len(word), nil
	}
	if digits := digitsForm.FindString(rest); digits != "" {
		unit := unitForm.FindStringSubmatch(rest[len(digits):])
		if unit == nil {
			return token{sort: number, text: digits, offset: at}, len(digits), nil
		}
		return token{sort: number, text: digits, unit: unit[1], offset: at, unitAt: at + len(digits) + len(unit[0]) - len(unit[1])}, len(digits) + len(unit[0]), nil
	}
	r, _ := utf8.DecodeRuneInString(rest)
	return token{}, 0, problem(text, at, "%q has no meaning here: use + - * / ( ) and a point before tenths", r)
}

// quoted reads a channel in quotes.
func quoted(text string, at int) (token, int, error) {
	inner, _, closed := strings.Cut(text[at+1:], `"`)
	switch {
	case !closed:
		return token{}, 0, problem(text, at, "the quote is not closed")
	case !wholeRef.MatchString(inner):
		return token{}, 0, problem(text, at, "%q is no channel: write instrument/input", inner)
	}
	return token{sort: channel, text: inner, offset: at}, len(inner) + 2, nil
}

// unitOf is a unit that may stand behind a number.
type unitOf struct {
	word     string
	read     capture.Unit // by which the figure is read
	dim      Dim
	prefixes bool
}

var unitWords = []unitOf{
	{"V", capture.Volt, Dim{V: 1}, true}, {"A", capture.Ampere, Dim{A: 1}, true},
	{"ohm", capture.Ohm, Dim{V: 1, A: -1}, true}, {"Ω", capture.Ohm, Dim{V: 1, A: -1}, true}, {"\u2126", capture.Ohm, Dim{V: 1, A: -1}, true},
	{"F", capture.Farad, Dim{A: 1, S: 1, V: -1}, true}, {"Hz", capture.Hertz, Dim{S: -1}, true},
	{"W", capture.Watt, Dim{V: 1, A: 1}, true}, {"s", capture.Second, Dim{S: 1}, true},
	{"K", capture.Celsius, Dim{K: 1}, false}, {"degC", capture.Celsius, Dim{K: 1, Point: true}, false}, {"°C", capture.Celsius, Dim{K: 1, Point: true}, false},
	{"%", capture.One, Dim{}, false}, {"", capture.One, Dim{}, false},
}

const prefixes = "pnuµ\u03bcmkMG"

// figure reads a number with its unit: the value in base units.
func figure(text string, t token) (float64, Dim, error) {
	for _, u := range unitWords {
		prefix, fits := strings.CutSuffix(t.unit, u.word)
		if !fits || prefix != "" && (!u.prefixes || utf8.RuneCountInString(prefix) != 1 || !strings.Contains(prefixes, prefix)) {
			continue
		}
		written := t.text + " " + t.unit
		if u.word == "K" { // capture knows differences of temperature by no unit of their own
			written = t.text
		}
		v, _, err := u.read.ParseTyped(written, capture.Point)
		if err != nil {
			return 0, Dim{}, problem(text, t.offset, "%v", err)
		}
		return v, u.dim, nil
	}
	return 0, Dim{}, problem(text, t.unitAt, "%q is no unit here: V, A, ohm, F, Hz, W, s, K, degC or %% may follow a number", t.unit)
}
