package store

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"steadyrail/capture"
)

// oddJob makes the file of a job whose readings are hard to write down: some
// fill blocks, some stand in what waits for one, some at the same instants.
func oddJob(t *testing.T) string {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	values := []float64{0, math.Copysign(0, -1), math.NaN(), math.Float64frombits(0xfff0_0000_dead_beef), math.Inf(1), math.Inf(-1), 5e-324,
		-2.2250738585072014e-308, math.MaxFloat64, 0.1 + 0.2, -1e-9, 123456789012345678}
	texts := []string{"", "-0.000", "+9.0000E+00", ".5", "5.", "-.5e-3", "007", "1e400", "-1e-400", "OVLD", "é Ω", "\xff\x00", "999999999999999999", "12345678901234567890"}
	flags := []capture.Flags{0, 0, capture.TimedOut, capture.Held, 0, capture.Typed | capture.ByEye}
	for i := range 10_000 {
		at := t0 + capture.Instant(i/3)*40_000
		if i > 5000 {
			at += 3600 * second
		}
		rec := volts(at, []capture.ChannelID{"a/volts", "b/volts"}[i%7%2], values[i%len(values)])
		r := rec.Item.(capture.Reading)
		r.Text, r.Flags = texts[i%len(texts)], flags[i/100%len(flags)]
		switch {
		case i/1000 == 2:
			r.Value, r.Text = math.Copysign(0, -1), "-0.000"
		case i/1000 == 3: // zeros of both signs and nothing else
			r.Value = values[i%2]
		case r.Text == "-1e-400": // so little that nothing is left but the sign
			r.Value = math.Copysign(0, -1)
		case i%5 < 2:
			r.Value, _, _, _ = capture.ParseResponse(r.Text)
		}
		r.Resolution = []float64{0, 1e-4, math.NaN()}[i/1000%3]
		r.Ordinal = []uint64{uint64(i), math.MaxUint64 - uint64(i), 1 << 63}[i/500%3]
		if i%501 == 0 {
			r.Measured, r.HalfWidth = math.MinInt64, math.MaxInt64
		}
		rec.Item = r
		j.Consume(rec)
		if i%1000 == 500 {
			j.Consume(act(at, capture.ActNote))
			j.Transition(capture.Transition{At: at, Alarm: "a", Value: math.NaN()})
		}
		if i%700 == 0 {
			settle(t, j)
		}
	}
	closeJob(t, j)
	return j.Path()
}

func emptyJob(t *testing.T) string {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	closeJob(t, j)
	return j.Path()
}

// crashedJob is a file with its log beside it, as a crash leaves them.
func crashedJob(t *testing.T) string {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	recs, then := corpusRecords()
	for _, rec := range recs {
		j.Consume(rec)
	}
	then(j)
	settle(t, j)
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	for _, end := range []string{"", "-wal"} {
		content, err := os.ReadFile(j.Path() + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path+end, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// formerJob was made in format 1 and went on in this one: its chain has both
// rules.
func formerJob(t *testing.T) string {
	t.Helper()
	w, path := oldJob(t)
	j, err := w.Open("AB-0147", t0+1000*second)
	if err != nil {
		t.Fatal(err)
	}
	j.Consume(volts(t0+2000*second, "dmm/volts", 5.5))
	closeJob(t, j)
	return path
}
