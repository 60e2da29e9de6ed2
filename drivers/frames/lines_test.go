package frames

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// handLines is a meter that sends "DC +5.0123 mV  HOLD AUTO".
func handLines() Lines {
	return Lines{
		Pattern: `(?P<flags1>DC|AC|  ) (?P<value>[-+ ](?:[0-9.]{6}|  OL  )) (?P<unit>.{5})(?P<flags2>.*)`,
		Units: []Unit{
			{"V", capture.DCVoltage, ""}, {"mV", capture.DCVoltage, "mV"}, {"uA", capture.DCCurrent, "uA"}, {"ohm", capture.Resistance, "ohm"},
			{"kohm", capture.Resistance, "kohm"}, {"Mohm", capture.Resistance, "Mohm"}, {"Hz", capture.Frequency, "Hz"}, {"%", capture.Ratio, "%"},
			{"degC", capture.Temperature, "degC"}, {"nF", capture.Capacitance, "nF"},
		},
		Words: []Word{
			{"OL", "over_range"}, {"HOLD", "held"}, {"BATT", "low_battery"}, {"AUTO", "nothing"}, {"A", "nothing"},
			{"REL", "relative"}, {"DC", "dc"}, {"AC", "ac"},
		},
	}
}

func compiled(t testing.TB, l Lines) *lineReader {
	t.Helper()
	r, err := l.compile()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestLineDisplays(t *testing.T) {
	r := compiled(t, handLines())
	for _, c := range []struct {
		line string
		want Display
	}{
		{"DC +5.0123 V    ", Display{capture.DCVoltage, 5.0123, 0.0001, "+5.0123", 0}},
		{"DC -12.043 V    AUTO", Display{capture.DCVoltage, -12.043, 0.001, "-12.043", 0}},
		{"DC +123.45 mV   AUTO HOLD", Display{capture.DCVoltage, 0.12345, 0.00001, "+123.45E-03", capture.Held}},
		{"AC +230.12 V    AUTOHOLD", Display{capture.ACVoltage, 230.12, 0.01, "+230.12", capture.Held}},
		{"DC +5.0123 V    A,BATT", Display{capture.DCVoltage, 5.0123, 0.0001, "+5.0123", capture.LowBattery}},
		{"DC    OL   V    ", Display{Quantity: capture.DCVoltage, Flags: capture.OverRange}},
		{"DC -  OL   V    ", Display{Quantity: capture.DCVoltage, Flags: capture.UnderRange}},
		{"   +1.2340 Mohm ", Display{capture.Resistance, 1.234e6, 100, "+1.2340E+06", 0}},
		{"   -0.0800 ohm  REL", Display{capture.Resistance, -0.08, 0.0001, "-0.0800", 0}},
		{"   +50.000 %    ", Display{capture.Ratio, 0.5, 0.00001, "+50.000E-02", 0}},
		{"   +00023. degC ", Display{capture.Temperature, 23, 1, "+00023.", 0}},
		{"   +100.00 nF   ", Display{capture.Capacitance, 100e-9, 1e-11, "+100.00E-09", 0}},
	} {
		got, err := r.read([]byte(c.line + "\r"))
		if err != nil || got != c.want {
			t.Errorf("%q: %+v, %v\nwant %+v", c.line, got, err, c.want)
		}
	}
}

func TestLineRefusals(t *testing.T) {
	r := compiled(t, handLines())
	for _, c := range []struct {
		line string
		want error
		says string
	}{
		{"", ErrMalformed, "does not fit"},
		{"DC +5.012 V    ", ErrMalformed, "does not fit"}, // a character is lost
		{"+5.0123 V    ", ErrMalformed, "does not fit"},
		{"DC +5.0123 W    ", ErrMalformed, `unit "W" is not in the model`},
		{"DC +5.0123 V    HELD", ErrMalformed, `flag "HELD" is not in the model`},
		{"DC +5.0.23 V    ", ErrMalformed, "no figure"},
		{"DC +...... V    ", ErrMalformed, "no figure"},
		{"DC +5.0123 V    AC", ErrRefused, "AC and DC at once"},
		{"DC +0.0123 V    REL", ErrRefused, "relative"},
		{"DC +5\xb50123 V    ", ErrMalformed, "does not fit"},
		{strings.Repeat("x", longest+1), ErrMalformed, "more than 256"},
	} {
		if got, err := r.read([]byte(c.line + "\r\n")); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) || got != (Display{}) {
			t.Errorf("%q: %+v, %v; want %v saying %q", c.line, got, err, c.want, c.says)
		}
	}
}

func TestDecimalComma(t *testing.T) {
	l := Lines{Pattern: `(?P<value>.*)`, Units: []Unit{{"", capture.DCVoltage, "mV"}}, Mark: capture.Comma}
	r := compiled(t, l)
	if d, err := r.read([]byte("5,02\n")); err != nil || d.Text != "5.02E-03" || d.Value != 0.00502 {
		t.Fatalf("%+v, %v", d, err)
	}
	if d, err := r.read([]byte("5.02\n")); !errors.Is(err, ErrMalformed) {
		t.Fatalf("%+v, %v", d, err)
	}
}

func TestLineMistakes(t *testing.T) {
	for says, change := range map[string]func(*Lines){
		"no group named value":         func(l *Lines) { l.Pattern = ".*" },
		"error parsing regexp":         func(l *Lines) { l.Pattern = "(" },
		`group "colour" is not known`:  func(l *Lines) { l.Pattern += "(?P<colour>.*)" },
		"one unit with an empty text":  func(l *Lines) { l.Pattern = "(?P<value>.*)" },
		`"V" is there twice`:           func(l *Lines) { l.Units = append(l.Units, l.Units[0]) },
		"not a unit for this":          func(l *Lines) { l.Units[0].Unit = "ohm" },
		"quantity is missing":          func(l *Lines) { l.Units[0].Quantity = capture.NoQuantity },
		`meaning "tired" is not known`: func(l *Lines) { l.Words[0].Means = "tired" },
		`"OL" is there twice`:          func(l *Lines) { l.Words = append(l.Words, l.Words[0]) },
		"without spaces":               func(l *Lines) { l.Words[0].Text = "" },
		"units: there is none":         func(l *Lines) { l.Units = nil },
	} {
		l := handLines()
		change(&l)
		if _, err := l.compile(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", says, err)
		}
	}
}

// TestLineTorn: what is left of a line whose beginning nobody heard is a shorter
// line, and is not taken.
func TestLineTorn(t *testing.T) {
	l := Lines{Pattern: `(?P<value>[-+0-9.]+) V`, Units: []Unit{{"", capture.DCVoltage, ""}}}
	plan := segmentPlan()
	plan.Segments, plan.Lines = nil, &l
	f := &far{pieces: [][]byte{[]byte("2.5 V\r\n"), []byte("-12.5 V\r\n"), []byte("-12.6"), []byte(" V\r\n")}}
	d := connected(t, plan, f)
	if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != -12.6 {
		t.Fatalf("%+v, %v", r, err)
	}
	if _, err := d.Measure(t.Context(), "hand/volts"); err == nil {
		t.Fatal("there is nothing to read")
	}
	f.pieces = [][]byte{[]byte(".7 V\r\n"), []byte("-12.8 V\r\n")} // behind an error a beginning may be lost
	if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != -12.8 {
		t.Fatalf("%+v, %v", r, err)
	}
}

// TestDamagedLine: one wrong bit in a line of fixed form gives the right reading,
// none, or one in which a character has become another that is as good: with a
// bit of parity on the line none is left, without it that cannot be seen.
func TestDamagedLine(t *testing.T) {
	r := compiled(t, handLines())
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 99999).Draw(t, "figure")
		line := []byte(fmt.Sprintf("DC +%06.3f V    AUTO\r", float64(n)/1000))
		right, err := r.read(line)
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		at, bit := rapid.IntRange(0, len(line)-1).Draw(t, "at"), rapid.IntRange(0, 7).Draw(t, "bit")
		damaged := append([]byte(nil), line...)
		damaged[at] ^= 1 << bit
		got, err := r.read(damaged)
		inFigure := at >= 3 && at <= 9 // sign and digits
		if err == nil && got != right && !inFigure && got.Quantity == right.Quantity {
			t.Fatalf("%q: %+v", damaged, got)
		}
		if err == nil && bit == 7 {
			t.Fatalf("%q: a byte that is no character was taken", damaged)
		}
	})
}

func FuzzLines(f *testing.F) {
	f.Add([]byte("DC +5.0123 V    AUTO HOLD\r\nDC"))
	f.Add([]byte("\r\n\r\n   -  OL   Mohm REL\n"))
	r := compiled(f, handLines())
	f.Fuzz(func(t *testing.T, in []byte) {
		skip, length := r.next(in)
		if skip < 0 || length < 0 || skip+length > len(in) {
			t.Fatalf("skip %d, length %d of %d", skip, length, len(in))
		}
		if length == 0 {
			return
		}
		d, err := r.read(in[skip : skip+length])
		if err != nil {
			if !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrRefused) {
				t.Fatal(err)
			}
			return
		}
		sane(t, d)
	})
}

// FuzzPattern: no pattern of a user's ends the program.
func FuzzPattern(f *testing.F) {
	l := handLines()
	f.Add(l.Pattern, "V", "OL", "DC +5.0123 V    AUTO")
	f.Add(`(?P<sign>-?)(?P<value>\d*)(?P<unit>\D*)`, "", "0L", "-0L")
	f.Fuzz(func(t *testing.T, pattern, unit, word, line string) {
		r, err := Lines{Pattern: pattern, Units: []Unit{{unit, capture.DCVoltage, "mV"}}, Words: []Word{{word, "over_range"}}}.compile()
		if err != nil {
			return
		}
		if d, err := r.read([]byte(line)); err == nil {
			sane(t, d)
		}
	})
}
