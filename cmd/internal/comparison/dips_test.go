package comparison

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/drivers/sim"
)

// The dip is a load step: for 300 ms the logic draws 3.2 A more, the stand-in's
// output falls by its 32 milliohm times that, about 0.10 V, and comes back at
// the same instant. It is the one fault of the simulated bench that lasts as
// long as it is told to: a short or an open joint trips the stand-in, whose
// restart timer makes at least 1.5 s of any dip. CN3 is unplugged, so that no
// music moves the rail beside it.
//
// The rail is declared +5 V ± 0.5 %, 4.975 to 5.025 V: its collapse begins a
// band's width below the band, at 4.925 V, and the dip goes to about 4.90 V.
const (
	dipRail   = "+5 0.5% logic"
	dipAmps   = "3.2A"
	dipLength = 300 * time.Millisecond
	dipBelow  = 4.925 // V, where the collapse begins
)

// Dips are more than 30 s of bench time apart: what comes a third time within a
// minute chatters, and is counted and not told from then on. Between them the clock
// runs fast.
const (
	dipGap  = 31 * time.Second
	fastest = 12
)

// dip is one that was made.
type dip struct {
	from, to capture.Instant // of the load step
	onset    time.Time       // wall time of from
	until    time.Time       // wall time up to which what is told is about this dip
}

// wall returns the wall time of an instant near the dip: the clock runs as on
// the wall there.
func (d dip) wall(at capture.Instant) time.Time { return d.onset.Add(at.Sub(d.from)) }

func newDipRig(tb testing.TB, h *hook) *rig {
	tb.Helper()
	r := newRig(tb, dipRail, h.URL+"/own", sim.CN3)
	if v := r.truth(sim.Point5); v < 4.985 || v > 5.015 {
		tb.Fatalf("the rail stands at %.4f V before the dips", v)
	}
	return r
}

// dips makes n dips at random moments, and leaves so much time after each for
// whoever watches from outside.
func (r *rig) dips(n int, chance *rand.Rand, after time.Duration) []dip {
	r.tb.Helper()
	var out []dip
	for range n {
		r.clock.SetSpeed(fastest)
		r.pass(dipGap)
		r.clock.SetSpeed(1)
		// Half a second for the meter to be back in step, and a second to hit
		// any phase of whoever looks once a second.
		r.pass(500*time.Millisecond + time.Duration(chance.Int64N(int64(time.Second))))
		out = append(out, r.dip(after))
	}
	return out
}

func (r *rig) dip(after time.Duration) dip {
	r.tb.Helper()
	d := dip{from: r.clock.Now(), onset: time.Now()}
	r.must(r.bench.Fault("load step", dipAmps, dipLength.String()))
	r.pass(dipLength / 2)
	if v := r.truth(sim.Point5); v > dipBelow-0.01 {
		r.tb.Fatalf("in the middle of the dip the rail stands at %.4f V", v)
	}
	d.to = d.from.Add(dipLength)
	r.pass(dipLength/2 + after)
	if v := r.truth(sim.Point5); v < 4.985 {
		r.tb.Fatalf("after the dip the rail stands at %.4f V", v)
	}
	d.until = time.Now()
	if r.alarm() != capture.Normal { // a dip between two readings left none
		r.act(capture.Act{Verb: capture.ActReset, Subject: five})
	}
	return d
}

// stored returns every reading of +5 V in the job's file; the daemon is
// stopped first, so that the file is all there is.
func (r *rig) stored() []capture.Record {
	r.tb.Helper()
	r.stop()
	job, err := store.OpenFile(filepath.Join(r.workspace, "jobs", jobID+store.Extension))
	r.must(err)
	var out []capture.Record
	r.must(job.Records(context.Background(), 0, 0, func(rec capture.Record) error {
		if v, ok := rec.Item.(capture.Reading); ok && v.Channel == volts && v.Good() {
			out = append(out, rec)
		}
		return nil
	}))
	r.must(job.Close(context.Background()))
	return out
}

// fell returns the first stored reading that fell into a dip: lower than the
// band by more than the band's width.
func fell(readings []capture.Record, d dip) (capture.Record, bool) {
	i := slices.IndexFunc(readings, func(rec capture.Record) bool {
		return rec.At >= d.from && rec.At <= d.to.Add(time.Second) && rec.Item.(capture.Reading).Value < dipBelow
	})
	if i < 0 {
		return capture.Record{}, false
	}
	return readings[i], true
}

// tellsOf returns the first notice about a dip that is as wanted.
func tellsOf(notices []notice, d dip, wanted func(notice) bool) (notice, bool) {
	i := slices.IndexFunc(notices, func(n notice) bool {
		return n.arrived.After(d.onset) && n.arrived.Before(d.until) && wanted(n)
	})
	if i < 0 {
		return notice{}, false
	}
	return notices[i], true
}

func ownAlarm(n notice) bool {
	return n.from == "own" && n.state == "active" && n.labels["kind"] == "collapse"
}

// Every dip that a reading fell into is told, by that reading, and no other.
func TestEveryDipThatAReadingFellIntoIsTold(t *testing.T) {
	n := 5
	if testing.Short() {
		n = 2
	}
	h := newHook(t)
	r := newDipRig(t, h)
	made := r.dips(n, rand.New(rand.NewPCG(7, 300)), 700*time.Millisecond)
	readings, notices := r.stored(), h.all()
	seen := 0
	for i, d := range made {
		rec, into := fell(readings, d)
		told, ok := tellsOf(notices, d, ownAlarm)
		switch {
		case into && !ok:
			t.Errorf("dip %d: the reading of %s fell into it, and nobody was told", i+1, rec.At)
		case !into && ok:
			t.Errorf("dip %d: no reading fell into it, and still a notice came: %+v", i+1, told)
		case into && told.at != rec.At:
			t.Errorf("dip %d: the first reading in it is of %s, the notice speaks of %s", i+1, rec.At, told.at)
		}
		if into {
			seen++
		}
	}
	if seen == 0 {
		t.Fatalf("no reading fell into any of %d dips: nothing was shown", n)
	}
	alarms := 0
	for _, n := range notices {
		if ownAlarm(n) {
			alarms++
		}
	}
	if alarms != seen {
		t.Errorf("%d alarms were told for %d dips that readings fell into: %+v", alarms, seen, notices)
	}
	t.Logf("a reading fell into %d of %d dips, and each was told", seen, n)
}
