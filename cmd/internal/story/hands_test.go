package story

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// What the words of demo --plain ask for is done, and shown; what hands cannot do is
// refused with what they can, and leaves everything where it was.
func TestHandsDoWhatTheyAreTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := sim.NewClock(capture.InstantOf(time.Now()), 1)
		leash := NewLeash(clock)
		defer leash.end()
		h := newHands(sim.NewBench(clock, 88, sim.Scenario{}), clock, leash)
		for _, c := range []struct{ do, says, wrong string }{
			{do: "probe dmm leads shorted clip", says: "The probe of dmm is on leads shorted, clipped."},
			{do: "probe thermo stand-in case clip", says: "The probe of thermo is on stand-in case, clipped."},
			{do: "probe dmm2 TP12", says: "The probe of dmm2 is on TP12, touched."},
			{do: "probe dmm2 off", says: "in the air"},
			{do: "probe dmm TP5 clip", says: "on TP5"},
			{do: "probe dmm nowhere", wrong: "nowhere"},
			{do: "probe dmm", wrong: "say where it goes"},
			{do: "probe oven TP5", wrong: "oven"},
			{do: "part CN3 out", says: "CN3 is off the board."},
			{do: "part CN4711 out", wrong: "CN4711"},
			{do: "part PS2", wrong: "say in or out"},
			{do: "part PS2 out", says: "PS2 is off the board."},
			{do: "feed stand-in", says: "on stand-in"},
			{do: "feed the cat", wrong: "the cat"},
			{do: "turn \u22120.25", says: "turns by -0.25"},
			{do: "supply clear", says: "No protection of the supply has tripped."},
			{do: "supply on", wrong: "supply clear"},
			{do: "turn 26", wrong: "-25 to 25"},
			{do: "turn NaN", wrong: "-25 to 25"},
			{do: "turn 1 2", wrong: "-25 to 25"},
			{do: "part stand-in in", says: "stand-in is in its place."},
			{do: "fault input joint 1.8s", says: "input joint 1.8s"},
			{do: "fault clear", says: "as they were"},
			{do: "fault of nobody", wrong: "fault room CELSIUS"},
			{do: "fault input joint soon", wrong: `fault: input joint: DURATION "soon" is no time`},
			{do: "fault garble oven", wrong: "none of dmm, dmm2"},
			{do: "speed 60", says: "as far as the meters can follow"},
			{do: "speed 1", says: "as fast as the clock on the wall"},
			{do: "speed 10", says: "10 times as fast"},
			{do: "speed 1", says: "as fast"},
			{do: "speed 701", wrong: "between 1 and 700"},
			{do: "speed NaN", wrong: "between 1 and 700"},
			{do: "dance wildly", wrong: "do not know"},
			{do: "", wrong: "probe METER POINT"},
		} {
			say, err := h.Do(strings.Fields(c.do))
			switch {
			case c.wrong == "" && (err != nil || !strings.Contains(say, c.says)):
				t.Errorf("%q: %q, %v", c.do, say, err)
			case c.wrong != "" && (err == nil || say != "" || !strings.Contains(err.Error(), c.wrong)):
				t.Errorf("%q: %q, %v; want %q", c.do, say, err, c.wrong)
			}
		}
		look := h.Look()
		if p := look.Probes[0]; p.Meter != sim.DMM || p.At != sim.Point5 || !p.Clip || look.Probes[1].At != "" {
			t.Errorf("probes: %+v", look.Probes)
		}
		if look.Feed != sim.FeedNothing || look.Speed != 1 {
			t.Errorf("the leads of a stand-in that was fitted are on %s; speed %g", look.Feed, look.Speed)
		}
		for _, p := range look.Parts {
			if p.In == (p.Name == sim.CN3 || p.Name == sim.PS2) {
				t.Errorf("%+v", p)
			}
		}
	})
}
