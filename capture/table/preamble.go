package table

import (
	"strings"
	"unicode"
)

// facts are what the lines before the header say and are taken for.
type facts struct {
	interval         float64 // seconds from row to row; 0: not said
	start, date, day string  // start: date and time; date and time of day apart
	timeUnit         string
	valueUnit        string
}

// preamble reads the lines before the header: pairs of key and value, in two
// cells or with a colon or an equals sign between them.
func (g *grid) preamble(l *Layout) facts {
	var f facts
	end := g.first
	if g.header >= 0 {
		end = g.header
	}
	for _, r := range g.rows[:end] {
		p := pairOf(r)
		if strings.EqualFold(p.Value, "sep=") {
			continue
		}
		p.Used = f.take(p, l)
		if len(l.Preamble) < mostPreamble {
			l.Preamble = append(l.Preamble, p)
		}
	}
	if f.start == "" && f.date != "" && f.day != "" {
		f.start = f.date + " " + f.day
	}
	if f.start == "" {
		f.start = f.date
	}
	return f
}

func pairOf(r record) Pair {
	var parts []string
	for _, c := range r.cells {
		if c != "" {
			parts = append(parts, c)
		}
	}
	head := strings.TrimLeft(parts[0], "#; ")
	if len(parts) == 1 {
		if i := strings.IndexAny(head, ":="); i > 0 && head[i+1:] != "" && unicode.IsLetter([]rune(head)[0]) {
			return Pair{Line: r.line, Key: strings.TrimSpace(head[:i]), Value: strings.TrimSpace(head[i+1:])}
		}
		return Pair{Line: r.line, Value: head}
	}
	return Pair{Line: r.line, Key: strings.TrimRight(head, ":= "), Value: strings.Join(parts[1:], " ")}
}

// keys are the words for what is understood, in small letters.
var keys = map[string]string{
	"sample interval": "interval", "sampling interval": "interval", "sample period": "interval", "sampling period": "interval", "interval": "interval",
	"time step": "interval", "time increment": "interval", "x increment": "interval", "dt": "interval", "delta t": "interval",
	"sample rate": "rate", "sampling rate": "rate", "sampling frequency": "rate", "sample frequency": "rate",
	"record length": "length", "number of points": "length", "number of samples": "length", "number of rows": "length",
	"start": "start", "start time": "start", "started": "start", "trigger time": "start", "acquisition time": "start", "recorded": "start", "date and time": "start",
	"date": "date", "start date": "date", "acquisition date": "date", "time": "day", "time of day": "day",
	"x unit": "time unit", "x units": "time unit", "horizontal unit": "time unit", "horizontal units": "time unit", "time unit": "time unit",
	"y unit": "value unit", "y units": "value unit", "vertical unit": "value unit", "vertical units": "value unit", "unit": "value unit", "units": "value unit",
}

// isFact reports whether a row is one of the lines before the header, for sure.
func isFact(r record) bool {
	p := pairOf(r)
	switch keys[strings.ToLower(p.Key)] {
	case "", "date", "day": // these may be names of columns
		return p.Key != "" && len(r.cells) == 1
	}
	return true
}

// take takes a pair over when it is understood and not said already.
func (f *facts) take(p Pair, l *Layout) bool {
	key, keyUnit := splitName(p.Key)
	switch keys[strings.ToLower(strings.ReplaceAll(key, "_", " "))] {
	case "interval":
		v, ok := secondsOf(p.Value, keyUnit, l.Decimal)
		return ok && set(&f.interval, v)
	case "rate":
		v, ok := rateOf(p.Value, keyUnit, l.Decimal)
		return ok && set(&f.interval, 1/v)
	case "length":
		n, rest := digits(p.Value)
		if n == "" || rest != "" || len(n) > 9 {
			return false
		}
		return set(&l.Declared, atoi(n))
	case "start":
		if m, ok := parseMoment(p.Value); ok && !m.hasDate {
			return set(&f.day, p.Value)
		}
		return isMoment(p.Value) && set(&f.start, p.Value)
	case "date":
		return isMoment(p.Value) && set(&f.date, p.Value)
	case "day":
		return isMoment(p.Value) && set(&f.day, p.Value)
	case "time unit":
		_, ok := parseUnit(p.Value)
		return ok && set(&f.timeUnit, p.Value)
	case "value unit":
		_, ok := parseUnit(p.Value)
		return ok && set(&f.valueUnit, p.Value)
	}
	return false
}

// set sets what was not set yet.
func set[T comparable](to *T, v T) bool {
	var zero T
	if *to != zero {
		return false
	}
	*to = v
	return true
}

func isMoment(s string) bool {
	_, ok := parseMoment(s)
	return ok
}

// secondsOf reads "0.4 us", or a number whose unit stands elsewhere; without
// any it is seconds. A number that could be read two ways is not understood.
func secondsOf(text, elsewhere string, decimal byte) (float64, bool) {
	v, u, ok := measure(text, elsewhere, "s", decimal)
	s, isTime := parseUnit(u)
	if !ok || !isTime || s.base.ASCII() != "s" || v <= 0 {
		return 0, false
	}
	return v * s.seconds(), true
}

// rateOf reads "250 kSa/s", "1 MHz", or a number in hertz.
func rateOf(text, elsewhere string, decimal byte) (float64, bool) {
	v, u, ok := measure(text, elsewhere, "Hz", decimal)
	for _, perSecond := range []string{"Sa/s", "S/s", "1/s"} {
		if cut, found := strings.CutSuffix(u, perSecond); found {
			u = cut + "Hz"
		}
	}
	s, isUnit := parseUnit(u)
	if !ok || !isUnit || s.base.ASCII() != "Hz" || v <= 0 {
		return 0, false
	}
	return v * s.seconds(), true
}

// measure parts a number from its unit.
func measure(text, elsewhere, usual string, decimal byte) (v float64, unitText string, ok bool) {
	number, unitText, _ := strings.Cut(strings.TrimSpace(text), " ")
	f, ok := parseFigure(number)
	if !ok { // "4us"
		i := strings.LastIndexAny(number, "0123456789") + 1
		if f, ok = parseFigure(number[:i]); !ok {
			return 0, "", false
		}
		unitText = number[i:] + unitText
	}
	if f.grouped || f.couldBeThousands() && f.mark != decimal {
		return 0, "", false
	}
	if unitText = strings.TrimSpace(unitText); unitText == "" {
		unitText = elsewhere
	}
	if unitText == "" {
		unitText = usual
	}
	v, _, ok = f.value(0)
	return v, unitText, ok
}
