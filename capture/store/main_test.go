package store

import (
	"context"
	"math"
	"os"
	"reflect"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		child(dir)
		return
	}
	goleak.VerifyTestMain(m)
}

// t0 is a whole cell edge: 2026-03-02 08:00:00 UTC.
const t0 = capture.Instant(1772438400_000000)

var ctx = context.Background()

// workspace opens a workspace in a fresh folder.
func workspace(t testing.TB, o Options) *Workspace {
	t.Helper()
	w, err := OpenWorkspace(t.TempDir(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := w.Close(); err != nil {
			t.Error(err)
		}
	})
	return w
}

// quick commits when asked only: the ticker practically never comes.
var quick = Options{CommitEvery: time.Hour}

func create(t testing.TB, w *Workspace, id string) *Job {
	t.Helper()
	j, err := w.Create(capture.Sheet{Job: id})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func volts(at capture.Instant, channel capture.ChannelID, v float64) capture.Record {
	return capture.Record{At: at, Job: "AB-0147", Item: capture.Reading{
		Channel: channel, Quantity: capture.DCVoltage, Value: v, Text: "+5.0120E+00", Resolution: 1e-4, Range: 10,
		Measured: at - 12_000, HalfWidth: 10 * time.Millisecond, Ordinal: uint64(at-t0)/1000 + 1,
	}}
}

func act(at capture.Instant, verb capture.Verb) capture.Record {
	return capture.Record{At: at, Job: "AB-0147", Item: capture.Act{Verb: verb}}
}

func settle(t testing.TB, j *Job) {
	t.Helper()
	if err := j.Sync(ctx); err != nil {
		t.Fatal(err)
	}
}

func closeJob(t testing.TB, j *Job) {
	t.Helper()
	if err := j.Close(ctx); err != nil {
		t.Fatal(err)
	}
}

func all(t testing.TB, j *Job, from, to capture.Instant) []capture.Record {
	t.Helper()
	var out []capture.Record
	if err := j.Records(ctx, from, to, func(r capture.Record) error { out = append(out, r); return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

// same compares records to the bit: reflect.DeepEqual would take 0 for -0 and
// no NaN for any other.
func same(a, b capture.Record) bool {
	x, okA := a.Item.(capture.Reading)
	y, okB := b.Item.(capture.Reading)
	if !okA || !okB {
		return reflect.DeepEqual(a, b)
	}
	for _, p := range [][2]*float64{{&x.Value, &y.Value}, {&x.Resolution, &y.Resolution}, {&x.Range, &y.Range}} {
		if math.Float64bits(*p[0]) != math.Float64bits(*p[1]) {
			return false
		}
		*p[0], *p[1] = 0, 0
	}
	return a.At == b.At && a.Job == b.Job && x == y
}

func wantSame(t interface {
	Helper()
	Fatalf(string, ...any)
}, got, want []capture.Record) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d records read, %d written", len(got), len(want))
	}
	for i := range got {
		if !same(got[i], want[i]) {
			t.Fatalf("record %d\n got %+v\nwant %+v", i, got[i], want[i])
		}
	}
}

func verify(t testing.TB, j *Job) capture.Head {
	t.Helper()
	head, err := j.Verify(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return head
}

// rowsOf reads every logical record, transitions too.
func rowsOf(t testing.TB, j *Job) (rows []row) {
	t.Helper()
	if err := j.walk(ctx, 0, 0, func(r *row) error { rows = append(rows, *r); return nil }); err != nil {
		t.Fatal(err)
	}
	return rows
}
