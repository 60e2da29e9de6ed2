package app_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
	"steadyrail/rules/kind"
)

// pointOf are the points of the rails on the simulated board.
var pointOf = map[string]string{five: sim.Point5, twelve: sim.Point12, minus12: sim.PointMinus12, dsp: sim.Point3}

// Times of a hand, in bench time. Way and reaction: hand to another target 0.4 s and
// mental preparation 1.35 s less what overlaps with the beep (keystroke-level
// model, Card, Moran and Newell 1980, from memory).
const (
	reaction = 300 * time.Millisecond
	way      = 900 * time.Millisecond
	pressing = 280 * time.Millisecond
)

// hands walk a board as the screen says, and nothing else.
type hands struct {
	*rig
	after uint64
	took  []time.Duration // each figure, beep to beep
	beep  capture.Instant
	count int
}

func (h *hands) look() dashboards.WalkView {
	h.t.Helper()
	v, err := h.Walk(h.t.Context(), jobID, h.after)
	h.must(err)
	h.after = v.Seq
	return v
}

func (h *hands) let(d time.Duration) {
	c, stop := h.clock.After(d)
	defer stop()
	<-c
}

func (h *hands) do(what string) {
	h.t.Helper()
	_, err := h.DoWalk(h.t.Context(), jobID, dashboards.WalkAct{Do: what})
	h.must(err)
}

// filed notes the time of each figure.
func (h *hands) filed(v dashboards.WalkView) {
	n := 0
	for _, row := range v.Rows {
		for _, f := range []walk.Figure{row.Volts, row.Ohms, row.Reversed} {
			if f.Text != "" {
				n++
			}
		}
	}
	if n > h.count {
		h.took = append(h.took, h.clock.Now().Sub(h.beep))
		h.beep = h.clock.Now()
	}
	h.count = n
}

// walkAll follows the screen until the walk is done.
func (h *hands) walkAll() dashboards.WalkView {
	h.t.Helper()
	on := ""
	late := time.Now().Add(patience)
	for {
		v := h.look()
		h.filed(v)
		at := v.Rail + v.In
		switch {
		case time.Now().After(late):
			h.t.Fatalf("it hangs: %+v", v)
		case v.Word == "done":
			return v
		case on != "" && on != at: // the beep: off, and to the next one
			h.let(reaction)
			h.must(h.bench.Lift(sim.DMM))
			on = ""
			h.let(way / 2)
		case v.Word == "touch" && on == "":
			h.let(way / 2)
			rail, _ := strings.CutSuffix(v.Rail, ", leads reversed")
			h.must(h.bench.Touch(sim.DMM, pointOf[rail], capture.Touched))
			on = at
			if v.In == "volts" && v.Key == "I am on it" && h.dead() {
				h.let(reaction + pressing)
				h.do("press")
			}
		}
	}
}

// dead reports whether the board is without power: a touch is not seen in volts.
func (h *hands) dead() bool {
	j, _ := h.Snapshot().Job(jobID)
	return !j.Stage.Live()
}

// The cold walk of the Alderbrook with one meter: all rails in volts, then in
// ohms; every figure belongs to its rail, and the rule about shorts judges it.
func TestColdWalk(t *testing.T) {
	t.Parallel()
	r := newRig(t, 3)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	res, err := r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "begin"})
	r.must(err)
	if !strings.Contains(res.Say, "Walk with dmm begun") {
		t.Error(res.Say)
	}
	h := &hands{rig: r, beep: r.clock.Now()}
	v := h.walkAll()
	slowest, sum := time.Duration(0), time.Duration(0)
	for _, d := range h.took {
		slowest, sum = max(slowest, d), sum+d
	}
	t.Logf("%d figures, mean %.2f s, slowest %.2f s of bench time: %v", len(h.took), (sum / time.Duration(len(h.took))).Seconds(), slowest.Seconds(), h.took)
	if v.Done != 8 || v.Of != 8 || len(v.Rows) != 4 {
		t.Errorf("%+v", v)
	}
	for _, row := range v.Rows {
		if row.Volts.Text == "" || math.Abs(row.Volts.Value) > 0.05 || row.Ohms.Text == "" || row.Verdict == "" {
			t.Errorf("%+v", row)
		}
		if strings.HasPrefix(row.Verdict, "not judged") { // a busy computer's readings come too unevenly for a rule about their rise
			t.Logf("%s: %s", row.Rail, row.Verdict)
		}
		if short := strings.Contains(row.Verdict, ": short"); short != (row.Rail == five) {
			t.Errorf("%s: %s", row.Rail, row.Verdict)
		}
	}
	h.do("end")
	r.stop()
	h.checkFiled(t)
}

// checkFiled holds every filed reading against where the probe's figure must lie.
func (h *hands) checkFiled(t *testing.T) {
	t.Helper()
	n := 0
	var places capture.Placements
	rec := h.read(jobID)
	for _, one := range rec.records {
		switch it := one.Item.(type) {
		case capture.Placement:
			h.must(places.Apply(one.At, it))
		case capture.Reading:
			p, _ := places.At(it.Channel, one.At)
			if p.Rail == "" || it.Channel.Instrument() != sim.DMM {
				continue
			}
			n++
			if it.Quantity == capture.Resistance && (it.Value < 2) != (p.Rail == five) {
				t.Errorf("%v under %s", it.Value, p.Rail)
			}
		}
	}
	if n < 4*2+4*3 {
		t.Errorf("%d readings filed", n)
	}
}

// The proof that a rail is dead lasts as long in the walk as in the rule.
func TestProofOfTheWalkAndOfTheRule(t *testing.T) {
	if walk.ProofLasts != kind.ProofLasts || walk.DeadBelow != kind.DeadBelow {
		t.Error("the walk and the rule about shorts part")
	}
}
