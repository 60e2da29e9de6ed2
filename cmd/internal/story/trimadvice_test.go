package story

import (
	"cmp"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
	"steadyrail/rules/trim"
)

// follower is a person at the simulated trimmer who does what the advice says and
// knows nothing else: the words are all that comes from the rules, the screw and the
// meter's probe all that goes back. Turns are done as well as a hand does them.
type follower struct {
	t     *testing.T
	bench *sim.Bench
	clock *sim.Clock
	fold  trim.Fold
	r     *rand.Rand
	point string

	gain    float64 // of the meter
	drawn   []drawn
	ordinal uint64
	now     capture.Instant
}

// drawn is what the converter really gave when something was read.
type drawn struct {
	at   capture.Instant
	amps float64
}

const followed = "+5 V logic"

// The meter: what it scatters, and its data, of which its own error is a part.
const (
	meterNoise = 0.00012 // V
	meterCount = 0.0001  // V
	meterError = 0.0001  // of reading, at most
	handError  = 0.04    // turns, standard deviation
	meterEvery = 200 * time.Millisecond
)

func newFollower(t *testing.T, seed uint64) *follower {
	r := rand.New(rand.NewPCG(seed, 5))
	clock := sim.NewClock(capture.InstantOf(time.Now()), 1)
	f := &follower{
		t: t, clock: clock, r: r, point: sim.PointStandInOut, gain: 1 + float64(meterError*(2*r.Float64()-1)),
		bench: sim.NewBench(clock, seed, sim.Scenario{Trimmer: 1 + 22*r.Float64()}),
	}
	rails, err := capture.ParseRails("+5 1% logic")
	if err != nil {
		t.Fatal(err)
	}
	info := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: meterEvery,
		Accuracy: []capture.Accuracy{{Range: 10, OfReading: 2 * meterError, Digits: 3, Resolution: meterCount}}}
	f.post(capture.Sheet{Job: "AB-0147", Rails: rails})
	f.post(capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{info}}}})
	f.stage(capture.Preset)
	f.place()
	return f
}

func (f *follower) post(it capture.Item) {
	f.now = max(f.clock.Now(), f.now+1)
	f.fold.Consume(capture.Record{At: f.now, Job: "AB-0147", Item: it})
}

func (f *follower) act(a capture.Act) { f.post(a) }

func (f *follower) stage(s capture.Stage) { f.act(capture.Act{Verb: capture.ActStage, Stage: s}) }

func (f *follower) place() {
	f.post(capture.Placement{Channel: "dmm/volts", Rail: followed, Point: f.point, Hold: capture.Clipped})
}

// read waits for the next reading.
func (f *follower) read() {
	time.Sleep(meterEvery)
	v, err := f.bench.Truth(f.point)
	if err != nil {
		f.t.Fatal(err)
	}
	v = math.Round((float64(v*f.gain)+float64(meterNoise*f.r.NormFloat64()))/meterCount) * meterCount
	f.drawn = append(f.drawn, drawn{f.clock.Now(), f.amps()})
	f.ordinal++
	f.post(capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: meterCount, Range: 10, Measured: f.clock.Now(), Ordinal: f.ordinal})
}

// steady reads until the rail is said to be steady, and says how it stands.
func (f *follower) steady() capture.Trimming {
	f.t.Helper()
	for range 1500 { // five minutes: a piece is played meanwhile
		f.read()
		if s, _ := f.fold.State(followed, f.now); s.Steady {
			return s
		}
	}
	s, _ := f.fold.State(followed, f.now)
	f.t.Fatalf("it never became steady: %+v", s)
	return s
}

// follow does what is said until nothing is left to do, and returns how it stands
// and how often the screw was touched.
func (f *follower) follow() (capture.Trimming, int) {
	f.t.Helper()
	for touches := range 30 {
		s := f.steady()
		if s.Next == "leave it" {
			return s, touches
		}
		turns := turnsOf(f.t, s.Next)
		f.act(capture.Act{Verb: capture.ActTurn, Subject: followed, Value: turns})
		done := f.bench.Turn(turns + float64(handError*f.r.NormFloat64()))
		for end := f.clock.Now().Add(done); f.clock.Now() < end; {
			f.read()
		}
	}
	s, _ := f.fold.State(followed, f.now)
	f.t.Fatalf("thirty touches, and still %q: %+v", s.Next, s)
	return s, 0
}

// smallTouch is what somebody makes of "a small touch".
const smallTouch = 0.5

var (
	eighths = []string{"an eighth of a turn", "a quarter of a turn", "three eighths of a turn", "half a turn", "five eighths of a turn", "three quarters of a turn", "seven eighths of a turn", "one turn"}
	beyond  = []string{"an eighth", "a quarter", "three eighths", "half a turn", "five eighths", "three quarters", "seven eighths"}
	whole   = regexp.MustCompile(`^([0-9.]+) turns$`)
)

// turnsOf reads the advice as a person does, up positive.
func turnsOf(t *testing.T, next string) float64 {
	t.Helper()
	text, way := next, 1.0
	if i := strings.Index(text, ", then lift the blade"); i >= 0 {
		text = text[:i]
	}
	if i := strings.LastIndex(text, ": "); i >= 0 {
		text = text[i+2:]
	}
	if i := strings.LastIndex(text, "; "); i >= 0 {
		text = text[i+2:]
	}
	switch {
	case strings.HasSuffix(text, " down"):
		text, way = strings.TrimSuffix(text, " down"), -1
	case strings.HasSuffix(text, " up"):
		text = strings.TrimSuffix(text, " up")
	default:
		t.Fatalf("no way is said: %q", next)
	}
	if m := whole.FindStringSubmatch(text); m != nil {
		n, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		return way * n
	}
	more, isMore := strings.CutPrefix(text, "one turn and ")
	switch {
	case text == "a small touch":
		return way * smallTouch
	case text == "a hair":
		return way / 20
	case isMore && slices.Contains(beyond, more):
		return way * (1 + float64(slices.Index(beyond, more)+1)/8)
	case slices.Contains(eighths, text):
		return way * float64(slices.Index(eighths, text)+1) / 8
	}
	t.Fatalf("how far? %q", next)
	return 0
}

// follows is how many benches somebody trims here, each with a trimmer that was
// left elsewhere, another reference, another hand.
const follows = 40

// Whoever does what the advice says ends on the target in few touches, without load
// on the bench and again under the real one; what fitting did and what the load
// does are told apart, each as it really is.
func TestTheAdviceLeadsToTheTarget(t *testing.T) {
	var preset, fitted []int
	for seed := range uint64(follows) {
		synctest.Test(t, func(t *testing.T) {
			f := newFollower(t, seed)
			if err := f.bench.Feed(sim.FeedStandIn); err != nil {
				t.Fatal(err)
			}
			f.bench.Panel(24, 1.5, true)
			f.act(capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "on"})
			s, n := f.follow()
			f.ends(s, "preset")
			preset = append(preset, n)
			f.fit()
			for range 40 { // the set starts: a moment of less load is no shift and no touch
				f.read()
			}
			f.steady()
			f.shift()
			s, n = f.follow()
			f.ends(s, "under load")
			fitted = append(fitted, n)
			f.regulation()
		})
	}
	t.Logf("touches: preset %v, under load %v", tallied(preset), tallied(fitted))
	if m := slices.Max(preset); m > 5 {
		t.Errorf("%d touches to preset", m)
	}
	if m := slices.Max(fitted); m > 6 {
		t.Errorf("%d touches under load", m)
	}
}

func tallied(n []int) [9]int {
	var out [9]int
	for _, v := range n {
		out[min(v, 8)]++
	}
	return out
}

// ends holds the end against what is really there.
func (f *follower) ends(s capture.Trimming, what string) {
	f.t.Helper()
	v, err := f.bench.Truth(f.point)
	if err != nil {
		f.t.Fatal(err)
	}
	if s.State != trim.Inside || math.Abs(v-5) > 0.050 {
		f.t.Errorf("%s: %s, really %g V", what, s.State, v)
	}
	if g := s.Gain; g != nil && !g.Declared && math.Abs(g.PerTurn-0.040) > max(4*g.U, 0.008) {
		f.t.Errorf("%s: a turn is worth 40 mV, not %g V ± %g V", what, g.PerTurn, 2*g.U)
	}
}

// fit takes the converter to the board.
func (f *follower) fit() {
	f.t.Helper()
	f.bench.Panel(24, 1.5, false)
	f.act(capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	for _, err := range []error{f.bench.Unplug(sim.PS2), f.bench.Plug(sim.StandIn), f.bench.Feed(sim.FeedBoard)} {
		if err != nil {
			f.t.Fatal(err)
		}
	}
	f.point = sim.Point5
	f.stage(capture.Trim)
	f.place()
	f.read() // nothing is there yet
	f.bench.Panel(24, 1.5, true)
	f.act(capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "on"})
}

// shift: the converter's ohms at about an ampere, its heat and its line are in it,
// and it is not called a regulation.
func (f *follower) shift() {
	f.t.Helper()
	s, _ := f.fold.State(followed, f.now)
	i := slices.IndexFunc(s.Findings, func(t string) bool { return strings.HasPrefix(t, "Fit-in shift ") })
	if i < 0 || !strings.Contains(s.Findings[i], "no load regulation") || slices.ContainsFunc(s.Findings, func(t string) bool { return strings.HasPrefix(t, "Load regulation") }) {
		f.t.Fatalf("after fitting: %q", s.Findings)
	}
	d := s.Fitted.Value - s.Preset.Value
	if amps := f.meanAmps(s.Fitted.At); math.Abs(d+float64(0.032*amps)) > 0.010 || d > 0 {
		f.t.Errorf("%q at %g A: %g V", s.Findings[i], amps, d)
	}
}

// meanAmps is the mean over what was steady at an instant.
func (f *follower) meanAmps(at capture.Instant) float64 {
	sum, n := 0.0, 0
	for _, d := range f.drawn {
		if d.at <= at && at.Sub(d.at) < 1200*time.Millisecond {
			sum += d.amps
			n++
		}
	}
	return sum / float64(n)
}

func (f *follower) amps() float64 {
	i, err := f.bench.Truth("stand-in amperes")
	if err != nil {
		f.t.Fatal(err)
	}
	return i
}

// idle reports whether nobody played while the newest readings were taken: what the
// converter gives is one figure then.
func (f *follower) idle() bool {
	newest := f.drawn[max(0, len(f.drawn)-20):]
	by := func(a, b drawn) int { return cmp.Compare(a.amps, b.amps) }
	return slices.MaxFunc(newest, by).amps-slices.MinFunc(newest, by).amps < 0.02
}

// regulation: two marks of two loads, nothing touched between, say what half an
// ampere does at the converter's 32 mohm.
func (f *follower) regulation() {
	f.t.Helper()
	mark := func() (amps, v float64) {
		s := f.steady()
		for !f.idle() {
			s = f.steady()
		}
		amps = f.amps()
		in := 24.0
		f.act(capture.Act{Verb: capture.ActMark, Subject: followed, Text: capture.MarkedAs{Load: &amps, Input: &in}.Text()})
		return amps, s.Value
	}
	for range 12 { // a piece that begins in between is said to spoil it, and it is marked again
		f.fault("clear")
		a, va := mark()
		f.fault("load step", "0.5A", "10m")
		for range 5 {
			f.read() // the step
		}
		b, vb := mark()
		s, _ := f.fold.State(followed, f.now)
		i := slices.IndexFunc(s.Findings, func(t string) bool { return strings.HasPrefix(t, "Load regulation ") })
		if i < 0 || !strings.HasPrefix(s.Findings[0], "Fit-in shift ") {
			f.t.Fatalf("named apart: %q", s.Findings)
		}
		if strings.Contains(s.Findings[i], "by a load that changed by itself") {
			continue
		}
		off := 0.003
		if strings.Contains(s.Findings[i], "warming is in it") {
			off = 0.015 // 0.9 mV a kelvin
		}
		if got, want := vb-va, -float64(0.032*(b-a)); strings.Contains(s.Findings[i], "cannot be told") || math.Abs(got-want) > off {
			f.t.Errorf("%q: %g V from %g A to %g A, really %g V", s.Findings[i], got, a, b, want)
		}
		return
	}
	f.t.Error("the load regulation could never be told")
}

func (f *follower) fault(words ...string) {
	f.t.Helper()
	if err := f.bench.Fault(words[0], words[1:]...); err != nil {
		f.t.Fatal(err)
	}
}
