package table

import (
	"context"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"unicode/utf8"
)

func wave(t *testing.T, data, column string, o Options) (Wave, error) {
	t.Helper()
	return ReadWave(context.Background(), []byte(data), column, o)
}

// A capture whose samples follow each other by 0.1 µs keeps its times: a record
// could not hold them.
func TestWaveKeepsItsTimes(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time (us),CH1 (mV),CH2 (A)\n")
	for i := range 40 {
		b.WriteString(strings.Join([]string{figureText(float64(i-10) / 10), figureText(100 * float64(i)), "0.5"}, ",") + "\n")
	}
	w, err := wave(t, b.String(), "", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Times) != 40 || w.Column != "CH1" || math.Abs(w.Times[1]-w.Times[0]-1e-7) > 1e-15 || math.Abs(w.Times[0]+1e-6) > 1e-15 || math.Abs(w.Values[3]-0.3) > 1e-12 {
		t.Errorf("%s: %d samples, times %v, values %v", w.Column, len(w.Times), w.Times[:2], w.Values[:4])
	}
}

func figureText(v float64) string {
	var f figure
	f.whole = itoa(int(math.Abs(v) * 10))
	s := f.whole
	for len(s) < 2 {
		s = "0" + s
	}
	s = s[:len(s)-1] + "." + s[len(s)-1:]
	if v < 0 {
		s = "-" + s
	}
	return s
}

// No file need say when its trigger was; decimal commas and an interval in the
// lines above are understood; a channel may be named.
func TestWaveOfOtherShapes(t *testing.T) {
	rows := strings.Repeat("1,25;2,5\n", 20)
	w, err := wave(t, "Sample Interval;4,0E-07;s\nCH1 (V);CH2 (V)\n"+rows, "CH2", Options{})
	if err != nil || len(w.Values) != 20 || w.Values[0] != 2.5 || math.Abs(w.Times[1]-4e-7) > 1e-18 {
		t.Error(err, w.Values, w.Times)
	}
}

// What is wrong is told with its line, or with what must be said.
func TestWaveRefuses(t *testing.T) {
	head := "Time (s),CH1 (V)\n"
	for want, c := range map[string]struct{ data, column string }{
		"line 3: its time":   {head + "1E-6,5\n1E-6,5\n", ""},
		"left the screen":    {head + "1E-6,5\n2E-6,9.9E37\n", ""},
		"there is no value":  {head + "1E-6,5\n2E-6,\n", ""},
		"several columns":    {"Time (s),CH1 (V),CH2 (V)\n1E-6,5,4\n2E-6,5,4\n", ""},
		"times of day":       {"Time,CH1 (V)\n2031-03-12T10:00:00Z,5\n2031-03-12T10:00:01Z,5\n", ""},
		"it has 3 cells":     {"Time (s);CH1 (V)\n1E-6;5.1\n2E-6;5.1\n3E-6;5.1;4\n4E-6;5.1\n", ""},
		"no table":           {"a,b\nx,y\n", ""},
		"there is no column": {head + "1E-6,5\n2E-6,5\n", "CH9"},
	} {
		_, err := wave(t, c.data, c.column, Options{})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", want, err)
		}
		var bad *BadRows
		if err != nil && !errors.Is(err, ErrUnclear) && !errors.As(err, &bad) {
			t.Errorf("%q: no error that callers decide by: %v", want, err)
		}
	}
}

// Whatever the bytes are: an error, or times that increase beside as many finite
// values.
func FuzzWave(f *testing.F) {
	for _, name := range []string{"scope-two-channels.csv", "scope-units-row.csv", "semicolon-over-comma.csv", "row-interval.csv"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, "CH1")
	}
	f.Add([]byte("Time (us),CH1 (V)\n1,5\n2,4\n3,3\n"), "")
	f.Add([]byte("Sample Interval;4,0E-07;s\nCH1 (V)\n1,25\n2,5\n"), "1")
	f.Fuzz(func(t *testing.T, data []byte, column string) {
		if len(data) > 1<<16 || !utf8.ValidString(column) {
			return
		}
		w, err := ReadWave(context.Background(), data, column, Options{})
		if err != nil {
			return
		}
		if len(w.Times) != len(w.Values) || len(w.Times) == 0 {
			t.Fatalf("%d times, %d values", len(w.Times), len(w.Values))
		}
		for i := range w.Times {
			if math.IsNaN(w.Times[i]) || math.IsNaN(w.Values[i]) || math.IsInf(w.Values[i], 0) || i > 0 && w.Times[i] <= w.Times[i-1] {
				t.Fatalf("sample %d: %g s, %g", i, w.Times[i], w.Values[i])
			}
		}
	})
}
