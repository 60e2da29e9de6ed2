package powercut

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// Demo data: the rails of an Alderbrook 88 stage piano on a bench that answers
// 80 readings a second.
const (
	jobID  = "AB-0147"
	t0     = capture.Instant(1772438400_000000) // 2026-03-02 08:00:00 UTC
	second = capture.Instant(1e6)
	rate   = 80 // readings a second
	tenth  = second / 10
)

var nominal = []float64{5, 12, -12, 3.3}

var ctx = context.Background()

// step is one thing that happens to a job: exactly one field is set.
type step struct {
	rec        *capture.Record
	transition *capture.Transition
	sync       bool
	reopen     capture.Instant // close in order, open again at this instant
	enclose    []byte          // a picture's content
	unenclose  string          // hash of one that goes again
}

// load is a job's script: both processes work it out from the same few numbers.
type load struct {
	Seed     uint64 `json:"seed"`
	Channels int    `json:"channels"`
	Seconds  int    `json:"seconds"`
	Sync     int    `json:"sync"`   // every so many seconds
	Reopen   int    `json:"reopen"` // every so many seconds; 0: never
	Shut     bool   `json:"shut"`   // the job is closed at the end: its file is made anew
}

// steps works the script out: readings evenly over each second, a tick each
// tenth, now and then a note and an alarm, and a sync at the end of a second.
func (l load) steps() []step {
	rng := rand.New(rand.NewPCG(l.Seed, 2))
	ordinals := make([]uint64, l.Channels)
	sheet := capture.Record{At: t0, Job: jobID, Item: capture.Sheet{Job: jobID, Set: "Alderbrook 88", Symptom: "no sound after an hour"}}
	out := []step{{rec: &sheet}}
	for s := range capture.Instant(l.Seconds) {
		for k := range capture.Instant(rate) {
			at := t0 + s*second + (k+1)*second/(rate+1)
			c := rng.IntN(l.Channels)
			ordinals[c]++
			rec := reading(rng, at, c, ordinals[c])
			out = append(out, step{rec: &rec})
			switch {
			case k%8 == 7:
				tick := capture.Record{At: at, Item: capture.Tick{}}
				out = append(out, step{rec: &tick})
			case rng.IntN(400) == 0:
				note := capture.Record{At: at, Job: jobID, Item: capture.Act{Verb: capture.ActNote, Text: strconv.Itoa(int(at - t0))}}
				out = append(out, step{rec: &note})
			case rng.IntN(200) == 0:
				out = append(out, step{transition: &capture.Transition{At: at, Alarm: "a" + strconv.Itoa(int(at-t0)), Rule: "collapse", Rail: "+5 V", Value: 3.087}})
			}
		}
		out = append(out, l.pictures(int(s))...)
		if int(s)%l.Sync == l.Sync-1 {
			out = append(out, step{sync: true})
		}
		if l.Reopen > 0 && int(s)%l.Reopen == l.Reopen-1 {
			out = append(out, step{reopen: t0 + (s+1)*second - 1})
		}
	}
	if l.Shut {
		out = append(out, step{rec: &capture.Record{At: t0 + capture.Instant(l.Seconds)*second, Job: jobID, Item: capture.Act{Verb: capture.ActClose}}})
	}
	return out
}

// reading is what a meter says: mostly noise around a rail, seldom an oddity
// that must keep its bits all the same.
func reading(rng *rand.Rand, at capture.Instant, channel int, ordinal uint64) capture.Record {
	v := math.Round((nominal[channel%len(nominal)]+rng.NormFloat64()*3e-4)*1e5) / 1e5
	r := capture.Reading{
		Channel: capture.ChannelID("dmm" + strconv.Itoa(channel+1) + "/volts"), Quantity: capture.DCVoltage,
		Value: v, Text: fmt.Sprintf("%.5f", v), Resolution: 1e-5, Range: 20,
		Measured: at - 12_000 - capture.Instant(rng.IntN(2000)), HalfWidth: 10 * time.Millisecond, Ordinal: ordinal,
	}
	switch rng.IntN(500) {
	case 0:
		r.Value, r.Text, r.Flags = 0, "", capture.TimedOut
	case 1:
		r.Value, r.Text = math.Copysign(0, -1), "-0.00000"
	case 2:
		r.Value, r.Text = rng.NormFloat64()/3, ""
	}
	return capture.Record{At: at, Job: jobID, Item: r}
}

// options commit when they are asked to; a FUSE disk is not for every day, and
// is refused unless one insists.
var options = store.Options{CommitEvery: time.Hour, AnyFileSystem: true}

// ingest plays the script into a new job. reached is told the number of steps
// that are known to be durable, or -1 when the job is known to exist.
func ingest(dir string, l load, reached func(int) error) error {
	w, err := store.OpenWorkspace(dir, options)
	if err != nil {
		return err
	}
	j, err := w.Create(capture.Sheet{Job: jobID})
	if err != nil {
		return err
	}
	if err := reached(0); err != nil {
		return err
	}
	for i, s := range l.steps() {
		switch {
		case s.rec != nil:
			j.Consume(*s.rec)
			continue
		case s.transition != nil:
			j.Transition(*s.transition)
			continue
		case s.enclose != nil || s.unenclose != "":
			if err := enclosure(j, s); err != nil {
				return err
			}
			continue
		case s.reopen != 0:
			if err := j.Close(ctx); err != nil {
				return err
			}
			if j, err = w.Open(jobID, s.reopen); err != nil {
				return err
			}
		}
		if err := j.Sync(ctx); err != nil {
			return err
		}
		if err := reached(i + 1); err != nil {
			return err
		}
	}
	return w.Close()
}

// expected is what the first n steps leave in the record.
func expected(steps []step) (records []capture.Record, alarms []capture.Transition) {
	var upto capture.Instant
	for _, s := range steps {
		switch {
		case s.transition != nil:
			alarms = append(alarms, *s.transition)
		case s.reopen != 0:
			gap := capture.Gap{From: upto, To: s.reopen, Reason: "not running"}
			records = append(records, capture.Record{At: s.reopen, Job: jobID, Item: gap})
			upto = s.reopen
		case s.rec != nil:
			upto = s.rec.At
			if _, tick := s.rec.Item.(capture.Tick); !tick {
				records = append(records, *s.rec)
			}
		}
	}
	return records, alarms
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
