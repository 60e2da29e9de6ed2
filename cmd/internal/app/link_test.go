package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// up waits for an instrument to be connected, or not.
func (r *rig) untilUp(name string, up bool) live.InstrumentView {
	r.t.Helper()
	word := map[bool]string{true: " is up", false: " is away"}[up]
	s := r.until(name+word, func(s live.Snapshot) bool {
		in, _ := s.Instrument(name)
		return in.Up == up
	})
	in, _ := s.Instrument(name)
	return in
}

// A cable that is pulled and put back: both are in the record, nothing has a
// value in between, the rail's silence is an alarm, and it goes by itself.
func TestCablePulled(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.soak()
	r.fault("link down", sim.DMM)
	if in := r.untilUp(sim.DMM, false); in.Problem == "" {
		t.Error("nothing says why it is away")
	}
	s := r.until("silence is an alarm", func(s live.Snapshot) bool { _, ok := alarm(s, "silent", five); return ok })
	j, _ := s.Job(jobID)
	for _, a := range j.Alarms { // a busy computer may leave other meters silent too
		if a.Kind != "silent" {
			t.Errorf("alarm: %+v", a)
		}
	}
	if code, body := r.ask("GET", "/readyz", ""); code != 503 || !strings.Contains(body, sim.DMM) {
		t.Errorf("readyz: %d %s", code, body)
	}
	if v := r.metric("steadyrail_instrument_up", `instrument="dmm"`); v != "0" {
		t.Errorf("instrument_up %q", v)
	}
	r.fault("link up", sim.DMM)
	r.untilUp(sim.DMM, true)
	r.until("it reads again", func(s live.Snapshot) bool {
		c, _ := s.Channel(volts(sim.DMM))
		return c.Last != nil && c.Last.Reading.Good()
	})
	if code, body := r.ask("GET", "/readyz", ""); code != 200 {
		t.Errorf("readyz: %d %s", code, body)
	}
	r.stop()

	rec := r.read(jobID)
	lost, back := rec.acts(capture.ActLinkLost, sim.DMM), rec.acts(capture.ActLinkBack, sim.DMM)
	if len(lost) != 1 || len(back) != 1 {
		t.Fatalf("lost %+v, back %+v", lost, back)
	}
	marked := 0
	rec.readings(volts(sim.DMM), func(at capture.Instant, v capture.Reading) {
		if at < lost[0].At || at > back[0].At {
			return
		}
		marked++
		if v.HasValue() || !v.Flags.Has(capture.Disconnected) {
			t.Errorf("while the cable was out: %+v", v)
		}
	})
	if marked == 0 {
		t.Error("its absence left no trace among the readings")
	}
}

// Two meters whose cables were swapped answer as each other. Whether the
// configuration says whom to expect or not, no value of one is filed where the
// other stands, and the screens say who answers.
func TestCablesSwapped(t *testing.T) {
	for name, expect := range map[string]bool{"expected": true, "only remembered": false} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := newRig(t, 5, func(c *configs.Config) {
				if expect {
					c.Instruments[0].Expect = capture.Identity{Serial: "00123457"}
					c.Instruments[1].Expect = capture.Identity{Serial: "00123458"}
				}
			})
			r.soak()
			since := r.clock.Now()
			r.fault("swap links", sim.DMM, sim.DMM2)
			s := r.until("both are known to be another", func(s live.Snapshot) bool {
				one, _ := s.Channel(volts(sim.DMM))
				two, _ := s.Channel(volts(sim.DMM2))
				return one.Outcomes["mismatch"] > 0 && two.Outcomes["mismatch"] > 0
			})
			for meter, other := range map[string]string{sim.DMM: "00123458", sim.DMM2: "00123457"} {
				if in, _ := s.Instrument(meter); in.Up || !strings.Contains(in.Problem, other) {
					t.Errorf("%s: up %t, %q", meter, in.Up, in.Problem)
				}
			}
			for rail, other := range map[string]string{five: "00123458", twelve: "00123457"} {
				// Both are named in its sentence: who answers, and who was meant. Where
				// the silence of the change was an alarm before anybody knew who is
				// there, it is told anew.
				r.until("an alarm on "+rail+" that names both", func(s live.Snapshot) bool {
					a, ok := alarm(s, "silent", rail)
					return ok && a.To == capture.Active && strings.Contains(a.Say, "00123457") && strings.Contains(a.Say, "00123458") && strings.Contains(a.Say, other+" is there")
				})
			}
			r.fault("swap links", sim.DMM, sim.DMM2)
			r.untilUp(sim.DMM, true)
			r.untilUp(sim.DMM2, true)
			r.stop()
			r.check(r.read(jobID), since)
		})
	}
}

// truths are what the clipped channels really are at, and how far a value may
// lie from it.
var truths = map[capture.ChannelID]struct{ is, within float64 }{
	"dmm/volts": {5, 0.2}, "dmm2/volts": {12, 0.3}, "dmm3/volts": {-12, 0.3}, "dmm4/volts": {3.3, 0.1},
	"supply/volts": {24, 0.1}, "supply/amperes": {0.8, 0.75}, "thermo/celsius": {35, 20},
}

// check holds every value of a job against what is true on the bench. What
// leads read that a person has taken off is no claim about any rail.
func (r *rig) check(s stored, since capture.Instant) {
	r.t.Helper()
	n, off := map[capture.ChannelID]int{}, map[capture.ChannelID]bool{}
	for _, one := range s.records {
		switch it := one.Item.(type) {
		case capture.Placement:
			off[it.Channel] = it.Rail == ""
		case capture.Reading:
			truth, ok := truths[it.Channel]
			if !ok {
				continue
			}
			n[it.Channel]++
			if one.At > since && !off[it.Channel] && it.HasValue() && !(it.Value > truth.is-truth.within && it.Value < truth.is+truth.within) {
				r.t.Errorf("%s: %g at %s is not %g ± %g", it.Channel, it.Value, one.At, truth.is, truth.within)
			}
		}
	}
	for ch := range truths {
		if n[ch] == 0 {
			r.t.Errorf("%s gave nothing", ch)
		}
	}
}

// Every way in which an answer can go wrong, on every kind of instrument,
// while all are polled: nothing hangs, each is counted as what it was, and no
// wrong value is ever filed.
func TestAnswersGoWrong(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.soak()
	since := r.clock.Now()
	faults := []string{"garble", "echo", "split", "late", "mute", "cut", "flood", "stale", "nan"}
	rounds := 3 // two are enough for every fault
	if testing.Short() {
		rounds = 2
	}
	names := sim.Instruments()
	for round := range rounds {
		bad := map[string]uint64{}
		for i, name := range names {
			kind := faults[(round*len(names)+i)%len(faults)]
			words := []string{name, "2"}
			if kind == "late" {
				words = []string{name, "1800ms", "1"}
			}
			bad[name] = r.trouble(name)
			r.fault(kind, words...)
			if kind == "split" {
				bad[name] = none // is no fault to whoever waits for the terminator
			}
		}
		r.until("each has been noticed, and reads again", func(s live.Snapshot) bool {
			for _, name := range names {
				if bad[name] != none && r.trouble(name) == bad[name] || !reads(s, name) {
					return false
				}
			}
			return true
		})
		r.pass(time.Second)
	}
	r.stop()
	r.check(r.read(jobID), since)
}

const none = ^uint64(0)

// trouble counts what went wrong with an instrument's answers.
func (r *rig) trouble(name string) uint64 {
	s := r.Snapshot()
	in, _ := s.Instrument(name)
	n := in.Resyncs
	for _, c := range s.Channels {
		if c.Info.ID.Instrument() != name {
			continue
		}
		for outcome, k := range c.Outcomes {
			if outcome != "good" {
				n += k
			}
		}
	}
	return n
}

// reads reports whether an instrument's newest reading is a good one.
func reads(s live.Snapshot, name string) bool {
	in, _ := s.Instrument(name)
	ok := in.Up
	for _, c := range s.Channels {
		if c.Info.ID.Instrument() == name && c.Last != nil && c.Selected && !c.Last.Reading.Good() {
			ok = false
		}
	}
	return ok
}
