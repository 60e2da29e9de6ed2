package table

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write the golden files again")

const start = "2031-03-12T10:00:00Z"

// take is a Take of one column.
func take(s string) Take {
	t, err := ParseTake(s)
	if err != nil {
		panic(err)
	}
	return t
}

// files are small files in the shapes that other programs write, with what a
// person says beside them.
var files = []struct {
	name string // in testdata
	as   string // tells uses of one file apart
	o    Options
}{
	{"scope-two-channels.csv", "", Options{}},
	{"scope-units-row.csv", "", Options{}},
	{"logger-day.csv", "", Options{}},
	{"logger-latin1.csv", "", Options{}},
	{"spreadsheet.csv", "", Options{}},
	{"slashed.csv", "", Options{}},
	{"row-interval.csv", "", Options{}},
	{"status-text.csv", "", Options{}},
	{"row-interval.csv", "by-hand", Options{Start: start, Interval: "1 ms", Zone: time.FixedZone("CET", 3600)}},
	{"backwards.csv", "refused", Options{Start: start}},
	{"backwards.csv", "sorted", Options{Start: start, Sort: true}},
	{"bad-rows.csv", "", Options{Start: start}},
	{"unclosed-quote.csv", "", Options{Start: start}},
	{"nul.csv", "", Options{Start: start}},
	{"thousands.csv", "unclear", Options{Start: start}},
	{"thousands.csv", "comma", Options{Start: start, Decimal: ','}},
	{"commas-only.csv", "unclear", Options{Start: start, Interval: "1 s"}},
	{"commas-only.csv", "comma", Options{Start: start, Separator: ',', Time: "1:s", Take: []Take{take("2=import/x:dc_voltage")}}},
	{"comma-for-both.csv", "", Options{Start: start}},
	{"too-fast.csv", "", Options{Start: start}},
	{"no-start.csv", "", Options{}},
	{"no-unit.csv", "unclear", Options{}},
	{"no-unit.csv", "taken", Options{Take: []Take{take("A1=scope/volts:dc_voltage:mV")}}},
	{"two-times.csv", "unclear", Options{}},
	{"two-times.csv", "named", Options{Time: "answered"}},
	{"semicolon-over-comma.csv", "", Options{Start: start, Interval: "1 s", Time: "row", Take: []Take{take("2=import/x:resistance")}}},
}

// Each file is understood, and read, as its golden file says.
func TestFiles(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range files {
		name := strings.TrimSuffix(f.name, ".csv")
		if f.as != "" {
			name += "-" + f.as
		}
		t.Run(name, func(t *testing.T) {
			got := tell(file(t, f.name), f.o)
			golden := filepath.Join("testdata", name+".golden")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != strings.ReplaceAll(string(want), "\r\n", "\n") {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
		seen[f.name] = true
	}
	all, err := filepath.Glob(filepath.Join("testdata", "*.csv"))
	if err != nil || len(all) != len(seen) {
		t.Errorf("%d files in testdata, %d in the table, %v", len(all), len(seen), err)
	}
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// tell says everything about a file.
func tell(data []byte, o Options) string {
	l, err := Understand(bytes.NewReader(data), o)
	if err != nil {
		return fmt.Sprintf("refused, clear %t: %v\n", !errors.Is(err, ErrUnclear), err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nheader %d, units %d, first %d, declared %d\n%s\n", l.Dialect(), l.HeaderLine, l.UnitLine, l.FirstLine, l.Declared, l.Clock.Say(l))
	for _, p := range l.Preamble {
		fmt.Fprintf(&b, "line %d %q = %q %t\n", p.Line, p.Key, p.Value, p.Used)
	}
	for i, c := range l.Columns {
		fmt.Fprintf(&b, "column %d %q %q %s %s\n", i+1, c.Name, c.Unit, c.Channel, c.Quantity)
	}
	tally, err := l.Read(context.Background(), bytes.NewReader(data), func(r Row) error {
		fmt.Fprintf(&b, "%d %s ± %s\n", r.Line, r.Measured, r.HalfWidth)
		for _, v := range r.Values {
			fmt.Fprintf(&b, "   %s %d %v ± %v %q %s\n", v.At.String()[20:], v.Column+1, v.Value, v.Resolution, v.Text, v.Flags)
		}
		return nil
	})
	if err != nil {
		fmt.Fprintln(&b, err)
	}
	fmt.Fprintf(&b, "%+v\n", tally)
	return b.String()
}

// A row with values that a bench knows: none is handed out behind a bad one.
func TestNothingBehindABadRow(t *testing.T) {
	text := "Time (s),CH1 (V)\n0.1,5.0\n0.2,5.1\nx,5.2\n0.4,5.3\n"
	l, err := Understand(strings.NewReader(text), Options{Start: start})
	if err != nil {
		t.Fatal(err)
	}
	var lines []int
	_, err = l.Read(t.Context(), strings.NewReader(text), func(r Row) error {
		lines = append(lines, r.Line)
		return nil
	})
	var bad *BadRows
	if !errors.As(err, &bad) || bad.Count != 1 || bad.List[0].Line != 4 || len(lines) != 2 {
		t.Errorf("rows %v, %v", lines, err)
	}
}

func TestTakes(t *testing.T) {
	for _, bad := range []string{"", "CH1", "=x", "CH1=", "CH1=a/b/c", "CH1=a:b:c:d", "CH1=a/b:volume", "CH1=by eye/volts", "CH1=a/\x01"} {
		if got, err := ParseTake(bad); err == nil {
			t.Errorf("%q is %+v", bad, got)
		}
	}
	got, err := ParseTake("a=b=scope/volts:ac_voltage:mV")
	if want := (Take{"a=b", "scope/volts", capture.ACVoltage, "mV"}); err != nil || got != want {
		t.Errorf("%+v, %v", got, err)
	}
}
