package export

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

var t0 = capture.InstantOf(time.Date(2031, 3, 12, 3, 17, 42, 123456000, time.UTC))

func log(items ...capture.Item) Records {
	return func(yield func(capture.Record, error) bool) {
		for i, it := range items {
			if !yield(capture.Record{At: t0.Add(time.Duration(i) * time.Second), Job: "AB-0147", Item: it}, nil) {
				return
			}
		}
	}
}

func volts(v float64, text string, n uint64, f capture.Flags) capture.Reading {
	return capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Text: text, Resolution: .001, Flags: f, Measured: t0.Add(-20 * time.Millisecond), HalfWidth: 5 * time.Millisecond, Ordinal: n}
}

func write(t *testing.T, r Records, o Options) [][]string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteCSV(&b, r, o); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "\n"); n != strings.Count(b.String(), "\r\n") {
		t.Error("a line does not end in CRLF")
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if strings.Join(rows[0], ",") != strings.Join(Columns(), ",") {
		t.Errorf("header %v", rows[0])
	}
	return rows[1:]
}

func TestReadings(t *testing.T) {
	place := capture.Placement{Channel: "dmm/volts", Rail: "+12 V audio", Point: "TP12", Hold: capture.Clipped}
	mend := place
	mend.Rail, mend.Point, mend.Corrects = "+5 V logic", "TP5", t0
	rows := write(t, log(place, volts(5.020, "5.0200E+00", 1, 0), volts(0, "", 2, capture.TimedOut), mend, volts(-1e-3, "", 3, 0), capture.Act{Verb: capture.ActNote}), Options{Zone: time.FixedZone("", 3600)})
	want := [][]string{
		{"2031-03-12T04:17:43.123456+01:00", "2031-03-12T04:17:42.103456+01:00", "0.005", "dmm/volts", "+5 V logic", "TP5", "clipped", "dc_voltage", "5.02", "5.0200E+00", "V", "0.001", "", "1"},
		{"2031-03-12T04:17:44.123456+01:00", "2031-03-12T04:17:42.103456+01:00", "0.005", "dmm/volts", "+5 V logic", "TP5", "clipped", "dc_voltage", "", "", "V", "0.001", "timeout", "2"},
		{"2031-03-12T04:17:46.123456+01:00", "2031-03-12T04:17:42.103456+01:00", "0.005", "dmm/volts", "+5 V logic", "TP5", "clipped", "dc_voltage", "-0.001", "-0.001", "V", "0.001", "", "3"},
	}
	if len(rows) != len(want) {
		t.Fatalf("%d lines, want %d", len(rows), len(want))
	}
	for i := range want {
		if strings.Join(rows[i], "|") != strings.Join(want[i], "|") {
			t.Errorf("line %d\n got %v\nwant %v", i, rows[i], want[i])
		}
	}
}

func TestChannelOnNothing(t *testing.T) {
	rows := write(t, log(volts(1, "1", 1, 0)), Options{})
	if r := rows[0]; r[4] != "" || r[5] != "" || r[6] != "" {
		t.Errorf("a channel that was never placed stands on %q, %q, %q", r[4], r[5], r[6])
	}
}

func TestHarmless(t *testing.T) {
	tests := map[string]string{
		"": "", "TP5": "TP5", "+5 V logic": "+5 V logic", "-12 V audio": "-12 V audio", "+3.3 V": "+3.3 V", "-5.0200E+00": "-5.0200E+00", "+1": "+1",
		"=1+1": "'=1+1", "@SUM(A1)": "'@SUM(A1)", "+5 V=cmd": "'+5 V=cmd", "-2+3": "'-2+3", "+5 V|x!A0": "'+5 V|x!A0", "\t=1": "'\t=1", "--": "'--", "+A1": "'+A1", "+5 V(1)*A1": "'+5 V(1)*A1",
		"'+": "''+", "''=1": "'''=1", "'": "'", "'70s amp": "'70s amp", "'+5 V": "'+5 V",
	}
	for in, want := range tests {
		got := Harmless(in)
		if got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
		if back := meant(got); back != in {
			t.Errorf("%q reads back as %q", in, back)
		}
	}
}

// Whatever a name holds, the file reads back to it after RFC 4180, and no cell
// begins like a formula that refers to anything.
func TestAnyNameReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.String().Draw(rt, "name")
		p := capture.Placement{Channel: "dmm/volts", Rail: name, Point: name}
		var b bytes.Buffer
		if err := WriteCSV(&b, log(p, volts(1, "1", 1, 0)), Options{}); err != nil {
			rt.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			rt.Fatal(err)
		}
		// encoding/csv reads CRLF inside quotes as LF, which RFC 4180 does not ask for.
		norm := func(s string) string { return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "") }
		if got := meant(rows[1][4]); norm(got) != norm(name) {
			rt.Fatalf("%q read back as %q", name, got)
		}
	})
}

func TestErrorsAreReturned(t *testing.T) {
	gone := errors.New("disk gone")
	bad := func(yield func(capture.Record, error) bool) { yield(capture.Record{}, gone) }
	if err := WriteCSV(io.Discard, bad, Options{}); !errors.Is(err, gone) {
		t.Errorf("got %v", err)
	}
	if err := WriteCSV(broken{}, log(volts(1, "1", 1, 0)), Options{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }
