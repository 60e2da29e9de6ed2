package walk

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules"
)

// klmLeast and klmMost are what pointing takes by the distance and the size of its
// target (Fitts's law in the same paper, from memory).
const klmLeast, klmMost = 0.8, 1.5

// judged has the rules judge what a test's bench records, as the application
// does: the probe is held until they are sure.
type judged struct{ engine *rules.Engine }

func judgedBy(s Setup, at capture.Instant, every time.Duration) *judged {
	j := &judged{engine: rules.New("")}
	sheet := capture.Sheet{Job: s.Job, Rails: s.Rails}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{
		{ID: s.Volts, Quantity: capture.DCVoltage, Every: every, Aperture: s.ApertureVolts, Group: "input"},
		{ID: s.Ohms, Quantity: capture.Resistance, Every: every, Aperture: s.ApertureOhms, Group: "input"}}}}}
	set := capture.RuleSet{Rules: rules.Implied(sheet, roster)}
	for i, it := range []capture.Item{sheet, roster, set, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks}, capture.Act{Verb: capture.ActNull, Value: 0.2}} {
		j.engine.Consume(capture.Record{At: at + capture.Instant(i), Job: s.Job, Item: it})
	}
	return j
}

// unsure takes a record, and reports whether the rules have no word with it of
// the resistance that the probe is on.
func (j *judged) unsure(rec capture.Record, job string, on Step) bool {
	if _, tick := rec.Item.(capture.Tick); !tick && rec.Job != job {
		return false
	}
	j.engine.Consume(rec)
	if on.Quantity != capture.Resistance || rec.Job != job {
		return false
	}
	v, _ := j.engine.Newest(on.Rail, "short")
	return v.Outcome == capture.NoData
}

// pacedRail draws a rail of a dead board: from a short to 20 kiloohm, with 100
// microfarads to 10 millifarads behind it (common for supplies of this size).
func pacedRail(r *rand.Rand) trueRail {
	ohms := 0.2 * math.Pow(1e5, r.Float64())
	return trueRail{ohms: ohms, tau: ohms * 1e-4 * math.Pow(100, r.Float64())}
}

const pacedRails = 6

// paced walks a board with six rails, by a hand that does not err and a
// computer whose records are late by up to a part of their interval. It returns
// how long each figure took, beep to beep.
func paced(seed uint64) (took []float64, rails []trueRail, wrong []string) {
	r := rand.New(rand.NewPCG(seed, 606))
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, TopVolts: 20, TopOhms: 1e8, ApertureVolts: 20 * time.Millisecond, ApertureOhms: 20 * time.Millisecond}
	for i := range pacedRails {
		s.Rails = append(s.Rails, anyRail(i))
		rails = append(rails, pacedRail(r))
	}
	b := newTestBench(r, s, rails)
	b.judge = judgedBy(s, b.now-1000, 100*time.Millisecond)
	b.every = 100 * ms
	b.lag = capture.Instant(r.Int64N(150*ms)) + 1
	tech := &technician{b: b, points: true, stats: map[string]int{}}
	for range 20_000 {
		if b.pass(); b.m.state == over {
			break
		}
		tech.look()
	}
	wrong, _ = b.misfiled()
	return b.took, rails, wrong
}

// pacedBoards are as many as make a thousand rails.
const pacedBoards = 170

// Every figure of a thousand rails and more within five seconds, beep to beep in
// simulated time, judged by the rules: hands by the keystroke-level model, what
// lies behind a rail drawn from a short to 20 kiloohm and from 100 microfarads to
// 10 millifarads, records as uneven as those of a busy computer. STEADYRAIL_WALKS
// asks for so many boards: of 60,000 figures of 5000 boards four took up to 5.3 s,
// whose charge was first followed a little wrongly, and taken back.
func TestEveryRailWithinFiveSeconds(t *testing.T) {
	t.Parallel()
	boards := pacedBoards
	if n, err := strconv.Atoi(os.Getenv("STEADYRAIL_WALKS")); err == nil {
		boards = n
	}
	var all []float64
	late := 0
	for seed := range uint64(boards) {
		took, rails, wrong := paced(seed)
		if len(wrong) > 0 || len(took) != 2*pacedRails {
			t.Errorf("board %d: %d figures, misfiled %v", seed, len(took), wrong)
		}
		for i, s := range took {
			if s > 5 {
				late++
				t.Logf("board %d, figure %d: %.2f s at %.3g ohm with %.3g s", seed, i, s, rails[i%pacedRails].ohms, rails[i%pacedRails].tau)
			}
		}
		all = append(all, took...)
	}
	slices.Sort(all)
	n := len(all)
	t.Logf("%d figures: median %.2f s, 95 %% %.2f s, slowest %.2f s", n, all[n/2], all[n*95/100], all[n-1])
	if late > n/10_000 {
		t.Errorf("%d took longer than five seconds", late)
	}
}
