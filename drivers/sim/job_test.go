package sim

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
)

// The stand-in's part of the job: preset, fit-in shift, trim, warm-up.
func TestPresetFitTrimWarmUp(t *testing.T) {
	r := newRig(t, 11, Scenario{})
	r.setUp(DMM, "CONF:VOLT 10", "VOLT:NPLC 1")
	r.must(r.Touch(DMM, PointStandInOut, capture.Clipped))
	r.must(r.Feed(FeedStandIn))
	r.setUp(Supply, "VOLT 24;CURR 0.3", "OUTP ON")
	r.pass(5 * time.Second)
	low := r.read(DMM, "READ?")
	near(t, "as it comes", low, 4.77, 0.03)
	r.pass(r.Turn((5-low)/voltsPerTurn) + time.Second)
	preset := r.read(DMM, "READ?")
	near(t, "one correction by the gain", preset, 5, 0.01)
	if i := r.read(Supply, "MEAS:CURR?"); i > 0.03 {
		t.Errorf("unloaded it takes %g A", i)
	}

	r.setUp(Supply, "OUTP OFF")
	r.must(r.Unplug(PS2))
	r.must(r.Plug(StandIn))
	r.must(r.Feed(FeedBoard))
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	r.setUp(Supply, "CURR 2", "OUTP ON")
	r.pass(10 * time.Second)
	fitted := r.read(DMM, "READ?")
	near(t, "fit-in shift", fitted-preset, -0.04, 0.015)
	for _, rail := range []struct {
		point string
		want  float64
	}{{Point12, 12.0}, {PointMinus12, -12.0}, {Point3, 3.3}, {Point24, 24}} {
		near(t, rail.point, r.truth(rail.point), rail.want, 0.1)
	}

	r.pass(r.Turn((5-fitted)/voltsPerTurn) + time.Second)
	near(t, "trimmed", r.read(DMM, "READ?"), 5, 0.012)
	cold := r.truth(PointCase)
	r.must(r.Touch(Thermo, PointCase, capture.Clipped))
	r.pass(2 * time.Hour)
	if rise := r.truth(PointCase) - cold; rise < 12 || rise > 40 {
		t.Errorf("rise %g K", rise)
	}
	near(t, "thermometer", r.read(Thermo, "READ?"), r.truth(PointCase)+thermoOffset, 0.3)
}

// A short takes what an injection gives it, through the leads and its own ohms, until
// what is short is lifted: then the board alone is left.
func TestInjectionIntoTheShort(t *testing.T) {
	r := newRig(t, 3, Scenario{})
	r.must(r.Feed(FeedRail5))
	r.setUp(Supply, "VOLT 0.3;CURR 0.5", "OUTP ON")
	r.pass(2 * time.Second)
	ohms, err := r.TruthOhms(Point5)
	r.must(err)
	near(t, "current into the short", r.read(Supply, "MEAS:CURR?"), 0.3/(ohms+supplyLeads), 0.01)
	near(t, "voltage on the rail", r.truth(Point5), 0.3*ohms/(ohms+supplyLeads), 0.005)
	near(t, "voltage at the board's input", r.truth(Point24), 0, 0.001)
	r.setUp(Supply, "CURR 0.1")
	r.pass(2 * time.Second)
	near(t, "in the current limit", r.read(Supply, "MEAS:CURR?"), 0.1, 0.005)
	r.must(r.Unplug(PS2))
	r.pass(2 * time.Second)
	near(t, "with what was short lifted", r.read(Supply, "MEAS:CURR?"), 0, 0.01)
	r.must(r.Plug(StandIn))
	if err := r.Feed(FeedRail5); err == nil {
		t.Error("two sources on one rail")
	}
	r.setUp(Supply, "OUTP OFF")
	r.pass(time.Second)
	near(t, "the leads came off it", r.truth(Point5), 0, 0.01)
}

func TestBladeDisturbsUntilItIsLifted(t *testing.T) {
	r := newRig(t, 2, Scenario{})
	r.must(r.Feed(FeedStandIn))
	r.setUp(Supply, "VOLT 24;CURR 0.3", "OUTP ON")
	r.pass(5 * time.Second)
	before := r.truth(PointStandInOut)
	d := r.Turn(0.0001)
	r.pass(d / 2)
	if got := r.truth(PointStandInOut) - before; got > -0.0008 {
		t.Errorf("with the blade in the slot it moved by %g V", got)
	}
	r.pass(d)
	near(t, "blade lifted", r.truth(PointStandInOut), before, 0.0008)
	up := r.truth("trimmer")
	r.pass(r.Turn(2))
	r.pass(r.Turn(-2))
	if back := r.truth("trimmer"); back-up < trimmerSlack/2 {
		t.Errorf("no slack: %g turns after there and back from %g", back, up)
	}
	r.pass(r.Turn(1000))
	if end := r.truth("trimmer"); end > trimmerTurns {
		t.Errorf("past its end: %g turns", end)
	}
}

// An episode of the joint, above and below Vs²/(4 P).
func TestInputJointCollapsesTheRail(t *testing.T) {
	r := newRig(t, 13, Scenario{})
	r.powerUp()
	near(t, "before", r.truth(Point5), 5, 0.1)
	p := r.truth("stand-in amperes") * r.truth(PointStandInOut) / standInEff
	limit := 24 * 24 / (4 * p)

	r.must(r.Fault("input joint", "500ms", ohmText(limit*0.6)))
	r.pass(300 * time.Millisecond)
	near(t, "below the limit it holds", r.truth(Point5), 5, 0.1)
	r.pass(time.Second)

	restarts := r.truth("stand-in restarts")
	r.must(r.Fault("input joint", "1.8s", ohmText(limit*1.5)))
	r.pass(300 * time.Millisecond)
	if v := r.truth(Point5); v > 1 {
		t.Errorf("300 ms into the episode: %g V", v)
	}
	near(t, "the other rails stand", r.truth(Point12), 12, 0.1)
	r.pass(6 * time.Second)
	near(t, "after", r.truth(Point5), 5, 0.1)
	if n := r.truth("stand-in restarts") - restarts; n != 1 {
		t.Errorf("%g restarts", n)
	}
}

func ohmText(v float64) string { return rounded(v, 4) }

func TestShortMakesARestartTrain(t *testing.T) {
	r := newRig(t, 17, Scenario{})
	r.powerUp()
	r.must(r.Fault("short +5 V", "0.3"))
	highs, was := 0, false
	for range 4000 {
		r.pass(2500 * time.Microsecond)
		if up := r.truth(Point5) > 0.5; up != was {
			was = up
			if up {
				highs++
			}
		}
	}
	// A try each retryDelay: six or seven in ten seconds.
	if highs < 5 || highs > 8 {
		t.Errorf("%d tries in 10 s", highs)
	}
	r.must(r.Fault("clear"))
	r.pass(4 * time.Second)
	near(t, "recovered", r.truth(Point5), 5, 0.1)
}

// A dip that is short against the aperture is averaged: 50 ms in 200 ms.
func TestApertureAveragesADip(t *testing.T) {
	r := newRig(t, 19, Scenario{})
	r.powerUp()
	r.setUp(DMM, "CONF:VOLT 10", "VOLT:NPLC 10", "ZERO:AUTO OFF")
	r.must(r.Touch(DMM, Point12, capture.Clipped))
	r.pass(time.Second)
	before := r.read(DMM, "READ?")
	near(t, "over 10 V range", before, 9.9e37, 1)
	r.setUp(DMM, "VOLT:RANG 100")
	before = r.read(DMM, "READ?")
	script, err := ParseScript("at 50ms load step 3A 60ms")
	r.must(err)
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	r.pass(time.Second)
	calm := r.read(DMM, "READ?")
	// 3 A more trips the stand-in's limit only after standInTrip: its output
	// falls meanwhile. What the reading shows is the mean of the truth.
	r.Play(script)
	from := r.clock.Now()
	got := r.read(DMM, "READ?")
	var sum float64
	n := 0
	for at := from; at < from.Add(200*time.Millisecond); at += 100 {
		sum += r.world.past.mean(n5, at, at+100)
		n++
	}
	near(t, "mean over the aperture", got, sum/float64(n), 0.002)
	if math.Abs(got-calm) < 0.01 || got < 0.5 {
		t.Errorf("the dip left %g V of %g V", got, calm)
	}
	_ = before
}

func TestConstantCurrentAtBringUp(t *testing.T) {
	r := newRig(t, 23, Scenario{})
	r.must(r.Unplug(PS2))
	r.must(r.Plug(StandIn))
	r.setUp(Supply, "*CLS", "VOLT 24;CURR 0.15", "OUTP ON")
	r.pass(8 * time.Second)
	if e := int(r.read(Supply, "STAT:QUES?")); e&bitLimiting == 0 {
		t.Errorf("0.15 A was enough: events %d", e)
	}
	r.setUp(Supply, "CURR 2.5")
	r.pass(5 * time.Second)
	if c := int(r.read(Supply, "STAT:QUES:COND?")); c != bitRegulated {
		t.Errorf("condition %d, want constant voltage", c)
	}
	near(t, "+5 V", r.truth(Point5), 5, 0.35)
	near(t, "read-back", r.read(Supply, "MEAS:VOLT?"), 24, 0.03)
}

func TestResetSwitchesTheSupplyOff(t *testing.T) {
	r := newRig(t, 29, Scenario{})
	r.powerUp()
	if r.Resets() != 0 {
		t.Fatal("somebody has sent *RST")
	}
	r.say(Supply, "*RST")
	r.pass(time.Second)
	if v := r.truth(Point5); v > 0.5 || r.say(Supply, "OUTP?") != "0" {
		t.Errorf("after *RST: output %s, rail %g V", r.say(Supply, "OUTP?"), v)
	}
	if r.Resets() != 1 {
		t.Errorf("%d resets counted", r.Resets())
	}
}

func TestHandheldSwitchesItselfOff(t *testing.T) {
	r := newRig(t, 31, Scenario{AutoOff: map[string]time.Duration{DMM2: 20 * time.Minute}})
	r.pass(19 * time.Minute)
	if r.say(DMM2, "*IDN?") != IdentityDMM2 {
		t.Error("asleep too early")
	}
	r.pass(time.Minute)
	if got := r.say(DMM2, "*IDN?"); got != "" {
		t.Errorf("still answers %q", got)
	}
	r.must(r.Fault("meter awake", DMM2))
	if r.say(DMM2, "*IDN?") != IdentityDMM2 {
		t.Error("does not wake")
	}
}

func TestJointFailsByItselfWhenHot(t *testing.T) {
	r := newRig(t, 37, Scenario{JointPerHour: 20})
	r.powerUp()
	before := r.truth("stand-in restarts")
	r.pass(4 * time.Hour)
	if n := r.truth("stand-in restarts") - before; n < 3 {
		t.Errorf("%g restarts in four hours", n)
	}
}

// The same acts at the same instants give the same readings, whoever else
// looked in between.
func TestSameSeedSameReadings(t *testing.T) {
	run := func(seed uint64, peek bool) (out []string) {
		r := newRig(t, seed, Scenario{JointPerHour: 30})
		r.powerUp()
		r.setUp(DMM, "CONF:VOLT 10", "VOLT:NPLC 1")
		r.must(r.Touch(DMM, Point5, capture.Touched))
		for range 400 {
			out = append(out, r.say(DMM, "READ?"))
			if peek {
				r.truth(Point12)
			}
			r.pass(158 * time.Millisecond)
			if peek {
				r.truth("room")
			}
		}
		return out
	}
	a, b, c := run(1, false), run(1, true), run(2, false)
	same := 0
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("reading %d: %s and %s", i, a[i], b[i])
		}
		if a[i] == c[i] {
			same++
		}
	}
	if same > len(a)/10 {
		t.Errorf("another seed gave %d of %d equal readings", same, len(a))
	}
}

// BenchmarkSixHours is a six-hour soak at five readings a second, with the
// model alone as the baseline.
func BenchmarkSixHours(b *testing.B) {
	for _, readings := range []bool{false, true} {
		name := "model"
		if readings {
			name = "sampled 5 per s"
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				r := newRig(b, 1, Scenario{})
				r.powerUp()
				r.setUp(DMM, "CONF:VOLT 10", "VOLT:NPLC 1", "ZERO:AUTO OFF")
				r.must(r.Touch(DMM, Point5, capture.Clipped))
				for range 6 * 3600 * 5 {
					if readings {
						r.say(DMM, "READ?")
						r.pass(178 * time.Millisecond)
					} else {
						r.pass(200 * time.Millisecond)
						r.catchUp()
					}
				}
			}
		})
	}
}
