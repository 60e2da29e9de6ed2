package kind

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const start = capture.Instant(1_800_000_000_000_000)

func at(seconds float64) capture.Instant { return start + capture.Instant(math.Round(seconds*1e6)) }

var five = capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: 5}

func plain(s string) string { return strings.NewReplacer("\u00a0", " ", "\u2212", "-").Replace(s) }

func armed(t testing.TB, name string, rail capture.Rail) Judge {
	t.Helper()
	k, ok := Find(name)
	if !ok {
		t.Fatalf("no kind %s", name)
	}
	rule := capture.Rule{Name: name, Kind: name, Rail: rail.Name}
	if k.Implied != nil {
		rule, _ = k.Implied(rail)
	}
	j := k.New(Case{Rule: rule, Rail: rail})
	j.Sit(start, Seat{Channel: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond}, Placement: capture.Placement{Rail: rail.Name, Hold: capture.Clipped}})
	j.Arm(start, Arming{Armed: true})
	return j
}

func TestTable(t *testing.T) {
	for _, k := range Table() {
		j := armed(t, k.Name, five)
		v := j.Verdict()
		if v.Kind != k.Name || v.Rail != five.Name || v.Say == "" || v.Outcome != capture.NoData || j.Outcome() != capture.NoData {
			t.Errorf("%s before any reading: %+v", k.Name, v)
		}
		if j.Condition() == Present {
			t.Errorf("%s: condition before any reading", k.Name)
		}
	}
	for _, bad := range []capture.Rule{{}, {Name: "a", Kind: "x", Rail: "r"}, {Name: "a", Kind: "band"}, {Name: "a", Kind: "band", Rail: "r", OnDelay: -1},
		{Name: "a", Kind: "band", Rail: "r", Deadband: math.NaN()}, {Name: "a", Kind: "band", Rail: "r", Count: -1}} {
		if Check(bad) == nil {
			t.Errorf("%+v is taken for a rule", bad)
		}
	}
}

// TestOutcomeIsTheVerdicts holds that the cheap answer and the full one agree,
// whatever happens.
func TestOutcomeIsTheVerdicts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var judges []Judge
		for _, k := range Table() {
			judges = append(judges, armedKind(k))
		}
		now := start
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			now += capture.Instant(rapid.IntRange(1, 900_000).Draw(t, "pause"))
			r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Resolution: 0.001,
				Value: rapid.SampledFrom([]float64{5, 4.95, 4.8, 3, 0.01, -5, math.NaN(), math.Inf(1)}).Draw(t, "v"),
				Flags: rapid.SampledFrom([]capture.Flags{0, 0, 0, capture.TimedOut, capture.OverRange, capture.Held, capture.Limiting}).Draw(t, "f")}
			what := rapid.IntRange(0, 12).Draw(t, "what")
			for _, j := range judges {
				switch what {
				case 0:
					j.Arm(now, Arming{Why: "the probe is only touched"})
				case 1:
					j.Arm(now, Arming{Armed: true})
				case 2:
					j.Blind(now)
				case 3:
					j.Beside(now, &r)
				case 4, 5:
					j.Tick(now)
				case 6:
					j.Arm(now, Arming{Armed: true, Cold: true})
				default:
					j.Read(now, &r)
				}
				v := j.Verdict()
				if v.Outcome != j.Outcome() || v.Say == "" || math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
					t.Fatalf("outcome %s, verdict %+v", j.Outcome(), v)
				}
				if j.Condition() == Present && (j.Finding().Say == "" || math.IsNaN(j.Finding().Value)) || j.Recovery().Say == "" {
					t.Fatalf("%s has nothing to say", v.Kind)
				}
			}
		}
	})
}

func armedKind(k Kind) Judge {
	rule := capture.Rule{Name: k.Name, Kind: k.Name, Rail: five.Name}
	j := k.New(Case{Rule: rule, Rail: five})
	j.Sit(start, Seat{Channel: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond}})
	j.Arm(start, Arming{Armed: true})
	return j
}

// TestCollapseBounds: a dip of known length, read at known instants: what is
// said encloses it.
func TestCollapseBounds(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 147))
	for range 500 {
		c := armed(t, "collapse", five).(*collapse)
		from, length := 10+rng.Float64(), 0.05+rng.Float64()
		for s := 5 + 0.2*rng.Float64(); s < 13; s += 0.1 + 0.2*rng.Float64() {
			v := 5.0
			if s >= from && s < from+length {
				v = 3.0
			}
			c.Read(at(s+0.05), &capture.Reading{Value: v, Resolution: 0.001, Measured: at(s + 0.004), HalfWidth: 5 * time.Millisecond})
		}
		if c.count == 0 {
			continue // no reading fell into it
		}
		said := strings.TrimSuffix(plain(c.lasted()), " s")
		lo, hi, both := strings.Cut(said, " to ")
		if !both {
			lo, hi = "0", strings.TrimPrefix(said, "at most ")
		}
		if parse(t, lo) > length+0.1 || parse(t, hi) < length {
			t.Fatalf("a dip of %.3f s is said to last %q", length, said)
		}
	}
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	var whole, tenth int
	for i, part := range strings.Split(s, ".") {
		for _, c := range part {
			if i == 0 {
				whole = whole*10 + int(c-'0')
			} else {
				tenth = int(c - '0')
			}
		}
	}
	return float64(whole) + float64(tenth)/10
}

// TestWindowAgainstTwoPasses holds mean and variance of the sliding window
// against a sum over what is in it.
func TestWindowAgainstTwoPasses(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	w := window{span: time.Second}
	var ats []capture.Instant
	var vs []float64
	for i := range 20000 {
		now := start + capture.Instant(i)*20_000 + capture.Instant(rng.IntN(5000))
		v := 1e6 + rng.NormFloat64()*1e-3
		w.add(now, v)
		ats, vs = append(ats, now), append(vs, v)
		for now.Sub(ats[0]) > time.Second {
			ats, vs = ats[1:], vs[1:]
		}
		mean, square := 0.0, 0.0
		for _, x := range vs {
			mean += (x - 1e6) / float64(len(vs))
		}
		for _, x := range vs {
			square += (x - 1e6 - mean) * (x - 1e6 - mean)
		}
		if w.n != len(vs) || math.Abs(w.mean()-1e6-mean) > 1e-8 || len(vs) > 2 && math.Abs(w.variance()-square/float64(len(vs)-1)) > 1e-10 {
			t.Fatalf("reading %d: n %d of %d, mean %g, want %g, variance %g", i, w.n, len(vs), w.mean()-1e6, mean, w.variance())
		}
	}
}

// TestLimitsKeepTheirDigits: a meter that ranged down beside a dead rail does
// not lend its digits to the limit, nor to what the rail fell from.
func TestLimitsKeepTheirDigits(t *testing.T) {
	for kind, want := range map[string]string{
		"band":     "+5 V logic is low: 8.6783 mV, lowest allowed 4.900 V",
		"collapse": "+5 V logic collapsed: from 4.99389 V to 8.6783 mV",
	} {
		j := armed(t, kind, five)
		for s := 1.0; s < 5; s++ {
			j.Read(at(s), &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 4.99389, Resolution: 1e-5})
		}
		j.Read(at(5), &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 0.0086783, Resolution: 1e-7})
		if got := plain(j.Finding().Say); got != want {
			t.Errorf("%s: %q, want %q", kind, got, want)
		}
	}
}

func TestReversedProbesAreAsked(t *testing.T) {
	m := armed(t, "missing", five)
	m.Read(at(1), &capture.Reading{Value: -5.01, Resolution: 0.01})
	if v := m.Verdict(); plain(v.Say) != "Reads the wrong way round: -5.01 V" || v.Outcome != capture.Fail {
		t.Errorf("%+v", v)
	}
}

// TestHalfTheBandIsInDoubt: 0.5 % + 2 counts of 10 mV on 5 V give
// U = 52 mV, so that half of a band of ±2 % is "cannot tell".
func TestHalfTheBandIsInDoubt(t *testing.T) {
	b := armed(t, "band", five).(*band)
	b.seat.Channel.Accuracy = []capture.Accuracy{{Range: 60, OfReading: 0.005, Digits: 2, Resolution: 0.01}}
	for v, want := range map[float64]capture.Outcome{5.00: capture.Pass, 5.04: capture.Pass, 5.06: capture.ConditionalPass, 5.13: capture.ConditionalFail, 5.20: capture.Fail} {
		b.forget()
		b.Read(at(1), &capture.Reading{Value: v, Resolution: 0.01, Range: 60})
		if got := b.Outcome(); got != want {
			t.Errorf("%g V: %s (U %g V), want %s", v, got, b.u.Expanded, want)
		}
	}
}

// TestRecoveryOfAShort: that a short went is said only where a reading shows it.
func TestRecoveryOfAShort(t *testing.T) {
	for name, c := range map[string]struct {
		ohms float64
		then func(*short)
		want string
	}{
		"above":         {1590, nil, "is no longer short: 1.59"},
		"too near":      {5.3, nil, "cannot be told: 5.3"},
		"supply on":     {1.026, func(s *short) { s.Act(at(3), &capture.Act{Verb: capture.ActOutput, Text: "on"}) }, "prove the rail dead again"},
		"limits":        {1.026, func(s *short) { s.Act(at(3), &capture.Act{Verb: capture.ActLimits}) }, "prove the rail dead again"},
		"volts came":    {1590, func(s *short) { s.Beside(at(3), &capture.Reading{Quantity: capture.DCVoltage, Value: 5}) }, "prove the rail dead again"},
		"negative ohms": {-3, nil, "there is voltage on the rail"},
		"lifted": {1.026, func(s *short) {
			s.Read(at(3), &capture.Reading{Quantity: capture.Resistance, Value: 9.9e37, Flags: capture.OverRange})
		}, "The probe was lifted"},
	} {
		s := armed(t, "short", five).(*short)
		s.Beside(at(0.5), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
		for k := range 6 {
			s.Read(at(1+0.2*float64(k)), &capture.Reading{Quantity: capture.Resistance, Value: c.ohms, Resolution: 0.001})
		}
		if c.then != nil {
			c.then(s)
		}
		if got := s.Recovery().Say; !strings.Contains(got, c.want) {
			t.Errorf("%s: %q lacks %q", name, got, c.want)
		}
	}
}

func TestShortNotNulledNearTheThreshold(t *testing.T) {
	s := armed(t, "short", five)
	s.Beside(at(0.5), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	read := func(from, v float64) {
		for k := range 6 {
			s.Read(at(from+0.2*float64(k)), &capture.Reading{Quantity: capture.Resistance, Value: v, Resolution: 0.001})
		}
	}
	read(1, 5.3)
	if got := s.Outcome(); got != capture.ConditionalPass {
		t.Errorf("5.3 Ω with leads in it: %s %s", got, s.Verdict().Say)
	}
	s.Act(at(3), &capture.Act{Verb: capture.ActNull, Value: 0.2})
	read(3, 5.3)
	if got := s.Outcome(); got != capture.Pass {
		t.Errorf("5.3 Ω less 0.2 Ω: %s %s", got, s.Verdict().Say)
	}
	read(5, -3)
	if got := s.Verdict(); got.Outcome != capture.NoData || !strings.Contains(got.Say, "voltage on the rail") || got.Held.Outcome != capture.Pass || got.Held.Since != at(5) {
		t.Errorf("negative resistance: %+v", got)
	}
}
