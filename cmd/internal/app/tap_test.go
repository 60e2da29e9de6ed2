package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

const hand = "hand"

// tap asks for a touch, and touches when the screen says so.
func (r *rig) tap(rail string, touch func() error) (dashboards.Result, error) {
	r.t.Helper()
	type answer struct {
		res dashboards.Result
		err error
	}
	done := make(chan answer, 1)
	go func() {
		res, err := r.Act(r.t.Context(), "", capture.Act{Verb: capture.ActTap, Subject: hand, Text: rail})
		done <- answer{res, err}
	}()
	r.until("it asks for the touch", func(s live.Snapshot) bool {
		in, _ := s.Instrument(hand)
		return strings.Contains(in.Problem, "touch "+rail+" with hand now")
	})
	r.pass(2 * time.Second)
	if touch != nil {
		r.must(touch())
	}
	a := <-done
	return a.res, a.err
}

// benchWithHandheld is a bench under power with a handheld beside it, which says
// nothing of itself.
func benchWithHandheld(t *testing.T) (*rig, *sim.Handheld) {
	t.Helper()
	r := newBench(t, 5)
	h, err := sim.NewHandheld(r.bench, sim.HandheldOptions{Form: sim.FormLines, TCP: true})
	r.must(err)
	t.Cleanup(h.Close)
	r.cfg.Instruments = append(r.cfg.Instruments, drivers.Config{
		Name: hand, Model: "stream-ascii", Link: h.Link(), Simulated: true,
		Isolation: capture.Isolation{Category: "CAT III 600 V", Port: "isolated"},
	})
	r.start()
	r.powered()
	return r, h
}

// A handheld without identity: its readings belong to no rail until a person has
// touched one with it, after each connection, and what it read before does not
// count.
func TestTap(t *testing.T) {
	t.Parallel()
	r, h := benchWithHandheld(t)
	r.must(r.bench.Lift(sim.DMM))
	place := func(p capture.Placement) error {
		_, err := r.Place(t.Context(), "", p)
		return err
	}
	r.must(place(capture.Placement{Channel: volts(sim.DMM)}))
	clip := capture.Placement{Channel: volts(hand), Rail: five, Point: sim.Point5, Hold: capture.Clipped}

	refused(t, "a meter nobody knows", place(clip), dashboards.Refused, "nobody can say which meter", `steadyrail tap hand "+5 V logic"`)
	r.must(h.Touch(sim.Point5, capture.Clipped))
	r.pass(2 * time.Second) // its display shows it by now
	_, err := r.tap(five, func() error {
		r.until("it says at once that it is there already", func(s live.Snapshot) bool {
			in, _ := s.Instrument(hand)
			return strings.HasPrefix(in.Problem, "hand reads ") && strings.HasSuffix(in.Problem, " V already: lift it, then touch "+five+" with hand now")
		})
		return nil
	})
	refused(t, "it was there before", err, dashboards.Refused, "before it was to touch anything", "lift")
	h.Lift()
	_, err = r.tap(five, func() error { return h.Touch(sim.Point12, capture.Clipped) })
	refused(t, "another rail was touched", err, dashboards.Refused, "did not follow")
	h.Lift()
	res, err := r.tap(five, func() error { return h.Touch(sim.Point5, capture.Clipped) })
	r.must(err)
	if !strings.Contains(res.Say, "hand is confirmed. hand/volts is on +5 V logic") {
		t.Error(res.Say)
	}
	res, err = r.Act(t.Context(), "", capture.Act{Verb: capture.ActTap, Subject: hand, Text: five})
	r.must(err)
	if !strings.Contains(res.Say, "nothing to confirm") {
		t.Error(res.Say)
	}
	r.must(place(clip))
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	reads := func(s live.Snapshot) bool {
		j, _ := s.Job("")
		v := j.Rails[0].Volts
		return v != nil && v.Reading.Channel == volts(hand) && v.At > s.Now.Add(-time.Second)
	}
	r.until("it reads", reads)
	r.pass(3 * time.Second)

	h.Unplug()
	r.untilUp(hand, false)
	r.must(h.Plug())
	if in := r.untilUp(hand, true); !strings.Contains(in.Problem, "steadyrail tap hand") {
		t.Errorf("the screen says %q", in.Problem)
	}
	s := r.until("its silence is an alarm", func(s live.Snapshot) bool { _, ok := alarm(s, "silent", five); return ok })
	if a, _ := alarm(s, "silent", five); !strings.Contains(a.Say, "has not been confirmed") && !strings.Contains(a.Say, "is disconnected") {
		t.Error(a.Say)
	}
	if code, body := r.ask("GET", "/readyz", ""); code != 503 || !strings.Contains(body, "steadyrail tap hand") {
		t.Errorf("readyz: %d %s", code, body)
	}
	h.Lift()
	_, err = r.tap(five, func() error { return h.Touch(sim.Point5, capture.Clipped) })
	r.must(err)
	r.until("it reads again", reads)
	r.pass(3 * time.Second)
	s = r.until("the alarm has gone", func(s live.Snapshot) bool { a, ok := alarm(s, "silent", five); return !ok || !a.To.IsActive() })
	if j, _ := s.Job(""); j.Rails[0].Placement.Hold != capture.Clipped {
		t.Errorf("it was clipped before: %+v", j.Rails[0].Placement)
	}
	r.stop()
	r.nothingInDoubt(r.read(jobID))
}

// nothingInDoubt looks at the record: between a connection and its tap there is
// no value.
func (r *rig) nothingInDoubt(rec stored) {
	r.t.Helper()
	wanted, values := 0, 0
	doubt := true // what came before the job is not in it
	for _, one := range rec.records {
		switch it := one.Item.(type) {
		case capture.Act:
			switch {
			case it.Subject == hand && it.Verb == capture.ActTap:
				if doubt = it.Text == capture.TapWanted; doubt {
					wanted++
				}
			case it.Subject == hand && it.Verb == capture.ActLinkLost:
				doubt = true
			}
		case capture.Reading:
			if it.Channel != volts(hand) || !it.HasValue() {
				continue
			}
			if values++; doubt {
				r.t.Fatalf("filed at %s in doubt: %+v", one.At, it)
			}
		}
	}
	if wanted != 1 || values < 10 {
		r.t.Errorf("asked for %d times, %d values", wanted, values)
	}
}
