package table

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestUnits(t *testing.T) {
	tests := map[string]unit{
		"V": {base: capture.Volt}, "volts": {base: capture.Volt}, "mV": {base: capture.Volt, shift: -3}, "[kV]": {base: capture.Volt, shift: 3}, "V DC": {base: capture.Volt}, "VAC": {base: capture.Volt, ac: true},
		"mV AC rms": {base: capture.Volt, shift: -3, ac: true}, "V~": {base: capture.Volt, ac: true}, "Volt": {base: capture.Volt}, "millivolts": {base: capture.Volt, shift: -3},
		"A": {base: capture.Ampere}, "uA": {base: capture.Ampere, shift: -6}, "µA": {base: capture.Ampere, shift: -6}, "\u03bcA": {base: capture.Ampere, shift: -6}, "ADC": {base: capture.Ampere},
		"Ω": {base: capture.Ohm}, "k\u2126": {base: capture.Ohm, shift: 3}, "Mohm": {base: capture.Ohm, shift: 6}, "mΩ": {base: capture.Ohm, shift: -3},
		"nF": {base: capture.Farad, shift: -9}, "Hz": {base: capture.Hertz}, "MHz": {base: capture.Hertz, shift: 6}, "°C": {base: capture.Celsius}, "degC": {base: capture.Celsius}, "W": {base: capture.Watt},
		"s": {base: capture.Second}, "(ms)": {base: capture.Second, shift: -3}, "min": {base: capture.Second, times: 60}, "%": {shift: -2},
	}
	for text, want := range tests {
		if got, ok := parseUnit(text); !ok || got != want {
			t.Errorf("%q is %+v, %t, want %+v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "F", "K", "°F", "MV", "S", "m", "k", "DC", "Ohm DC", "m°C", "bar", "CH1", "dBm", "1", "ks"} {
		if got, ok := parseUnit(text); ok {
			t.Errorf("%q is %+v", text, got)
		}
	}
}

func TestMoments(t *testing.T) {
	zone := time.FixedZone("", 3600)
	tests := map[string]string{
		"2031-03-12T10:00:00.5+01:00": "2031-03-12T09:00:00.5Z", "2031-03-12 10:00:00,123456": "2031-03-12T09:00:00.123456Z", "2031-03-12T10:00:00Z": "2031-03-12T10:00:00Z",
		"2031/3/2 7:05": "2031-03-02T06:05:00Z", "12.03.2031 23:59:59": "2031-03-12T22:59:59Z", "03/12/2031 10:00:00 PM": "2031-12-03T21:00:00Z", "12/03/2031 12:00 AM": "2031-03-11T23:00:00Z",
		"2031-03-12T10:00:00-0530": "2031-03-12T15:30:00Z", "2031-03-12": "2031-03-11T23:00:00Z", "2031-03-12T23:59:60Z": "2031-03-13T00:00:00Z",
	}
	for text, want := range tests {
		m, ok := parseMoment(text)
		if !ok {
			t.Errorf("%q is not understood", text)
			continue
		}
		if got, ok := m.time(zone); !ok || got.UTC().Format(time.RFC3339Nano) != want {
			t.Errorf("%q is %s, %t, want %s", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "5.012", "10", "2031-03", "24:00:00", "10:60", "2031-03-12T", "2031-03-12Tx", "2031-03-12 10:00:00 XM", "13:00:00 PM", "2031-03-12T10:00:00+25:00", "10:00:00.", "1-2-3 10:00"} {
		if m, ok := parseMoment(text); ok {
			t.Errorf("%q is %+v", text, m)
		}
	}
	for _, text := range []string{"2031-02-29", "2031-13-01", "2031-00-10", "2031-04-31T10:00:00Z"} {
		m, ok := parseMoment(text)
		if _, real := m.time(zone); ok && real {
			t.Errorf("%q is a day", text)
		}
	}
}

func TestFigures(t *testing.T) {
	tests := map[string]float64{"5.012": 5.012, "+5,012": 5.012, "-0.5": -.5, "\u22120.5": -.5, ".5": .5, "5.": 5, "1E3": 1000, "1e-03": .001, "2.5E+01": 25, "-0": 0}
	for text, want := range tests {
		f, ok := parseFigure(text)
		if got, _, fits := f.value(0); !ok || !fits || got != want || math.Signbit(got) != (want < 0) {
			t.Errorf("%q is %v, %t", text, got, ok)
		}
	}
	for _, text := range []string{"", "-", ".", "e5", "1e", "1e+-5", "+-1", "--1", "0x10", "1_000", "1 000", "5V", "NaN", "1e999", strings.Repeat("1", 41)} {
		if f, ok := parseFigure(text); ok {
			t.Errorf("%q is %+v", text, f)
		}
	}
}

// A file of one endless line, of separators or of quotes ends in an error that
// says so, and takes little memory.
func TestEndlessLines(t *testing.T) {
	const head = "Time (s),CH1 (V)\n0.1,5.0\n0.2,5.1\n"
	for what, filler := range map[string]endless{"digits": '1', "separators": ',', "quotes": '"', "nothing": 0} {
		const size = 256 << 20
		file := func() io.Reader {
			return io.MultiReader(strings.NewReader(head), io.LimitReader(filler, size))
		}
		l, err := Understand(file(), Options{Start: start})
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		var bad *BadRows
		if _, err = l.Read(t.Context(), file(), nil); !errors.As(err, &bad) || !bad.Ended || bad.List[0].Line != 4 {
			t.Errorf("%s: %v", what, err)
		}
		runtime.ReadMemStats(&after)
		if used := after.TotalAlloc - before.TotalAlloc; used > 2<<20 {
			t.Errorf("%s: took %d bytes", what, used)
		}
		if _, err := Understand(io.LimitReader(filler, size), Options{}); !errors.Is(err, ErrUnclear) {
			t.Errorf("only %s: %v", what, err)
		}
	}
}

type endless byte

func (e endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(e)
	}
	return len(p), nil
}

// However many rows are bad, fifty are told one by one.
func TestProblemsAreCapped(t *testing.T) {
	text := "Time (s),CH1 (V)\n0.1,5.0\n0.2,5.1\n" + strings.Repeat("x,5\n", 1000)
	l, err := Understand(strings.NewReader("Time (s),CH1 (V)\n0.1,5.0\n0.2,5.1\n"), Options{Start: start})
	if err != nil {
		t.Fatal(err)
	}
	var bad *BadRows
	if _, err = l.Read(t.Context(), strings.NewReader(text), nil); !errors.As(err, &bad) || bad.Count != 1000 || len(bad.List) != mostProblems || !strings.Contains(err.Error(), "and 950 more") {
		t.Errorf("%v", err)
	}
}

func TestReadEnds(t *testing.T) {
	text := "Time (s),CH1 (V)\n0.1,5.0\n0.2,5.1\n"
	l, err := Understand(strings.NewReader(text), Options{Start: start})
	if err != nil {
		t.Fatal(err)
	}
	stop := errors.New("enough")
	if _, err := l.Read(t.Context(), strings.NewReader(text), func(Row) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("got %v", err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := l.Read(gone, strings.NewReader(text), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if _, err := l.Read(t.Context(), io.MultiReader(strings.NewReader(text), broken{}), nil); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

// What was written in either dialect reads back as the same times and values.
func TestWrittenReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		mark := rapid.SampledFrom([]capture.DecimalMark{capture.Point, capture.Comma}).Draw(rt, "mark")
		zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(rt, "offset"))
		name := rapid.StringMatching(`[a-zA-Z;,"+ .]{0,12}x`).Draw(rt, "name")
		rows := rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) [2]float64 {
			value := rapid.Float64Range(-1e12, 1e12)
			return [2]float64{value.Draw(rt, "a"), float64(rapid.IntRange(-9, 9).Draw(rt, "b"))}
		}), 2, 20).Draw(rt, "rows")
		var b bytes.Buffer
		w := NewWriter(&b, mark)
		_ = w.Row("time", name+" (V)", "other (A)")
		at := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
		var times []capture.Instant
		for _, r := range rows {
			at += capture.Instant(rapid.Int64Range(2, 1e12).Draw(rt, "step"))
			times = append(times, at)
			_ = w.Row(Stamp(at, zone), w.Number(r[0]), w.Number(r[1]))
		}
		if err := w.Flush(); err != nil {
			rt.Fatal(err)
		}
		decimal := map[capture.DecimalMark]byte{capture.Point: '.', capture.Comma: ','}[mark]
		l, err := Understand(bytes.NewReader(b.Bytes()), Options{Decimal: decimal})
		if err != nil {
			rt.Fatalf("%v\n%s", err, b.String())
		}
		n := 0
		tally, err := l.Read(context.Background(), bytes.NewReader(b.Bytes()), func(r Row) error {
			if r.Measured != times[n] || r.Values[0].Value != rows[n][0] || r.Values[1].Value != rows[n][1] || r.Values[0].At != times[n] || r.Values[1].At != times[n]+1 {
				rt.Fatalf("row %d: %+v, want %s %v\n%s", n, r, times[n], rows[n], b.String())
			}
			n++
			return nil
		})
		if err != nil || n != len(rows) || tally.Values != 2*n {
			rt.Fatalf("%d of %d rows, %v\n%s", n, len(rows), err, b.String())
		}
	})
}

// Any cell reads back as it was, spaces around it aside.
func TestAnyCellReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		cells := rapid.SliceOfN(rapid.String(), 1, 8).Draw(rt, "cells")
		cells[0] = "x" + cells[0] // a byte order mark in front would be the file's
		var b bytes.Buffer
		w := NewWriter(&b, rapid.SampledFrom([]capture.DecimalMark{capture.Point, capture.Comma}).Draw(rt, "mark"))
		if w.Row(cells...) != nil || w.Flush() != nil {
			rt.Fatal("not written")
		}
		in, _, err := decode(bytes.NewReader(b.Bytes()), UTF8)
		if err != nil {
			rt.Fatal(err)
		}
		rec, err := newScanner(in, w.sep).next()
		if err != nil || len(rec.cells) != len(cells) {
			rt.Fatalf("%q is %q, %v", b.String(), rec.cells, err)
		}
		for i := range cells {
			if want := strings.TrimSpace(cells[i]); rec.cells[i] != want {
				rt.Fatalf("%q is %q", want, rec.cells[i])
			}
		}
	})
}

// The reader never panics, hands out only increasing instants and finite
// values, and reads a file the same each time.
func FuzzRead(f *testing.F) {
	for _, name := range files {
		f.Add(file(f, name.name), "")
	}
	f.Fuzz(func(t *testing.T, data []byte, column string) {
		o := Options{Start: start, Interval: "1 ms", Time: column}
		l, err := Understand(bytes.NewReader(data), o)
		if err != nil {
			return
		}
		_ = l.Dialect() + l.Clock.Say(l)
		var last capture.Instant
		values := 0
		first, err := l.Read(t.Context(), bytes.NewReader(data), func(r Row) error {
			for _, v := range r.Values {
				if v.At <= last || math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || v.Flags != 0 && v.Value != 0 || l.Columns[v.Column].Quantity == capture.NoQuantity {
					t.Fatalf("%+v behind %s", v, last)
				}
				last = v.At
				values++
			}
			return nil
		})
		if err == nil && (first.Values != values || first.Last != last) {
			t.Fatalf("%+v, but %d values up to %s", first, values, last)
		}
		again, err2 := l.Read(t.Context(), bytes.NewReader(data), nil)
		if first != again || (err == nil) != (err2 == nil) {
			t.Fatalf("%+v, %v and then %+v, %v", first, err, again, err2)
		}
	})
}
