package kind

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// handheld reads 0.5 % and 2 counts of 10 mV, and drifts with the room.
var coarse = capture.ChannelInfo{ID: "pocket/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond,
	Accuracy: []capture.Accuracy{{Range: 20, OfReading: 0.005, Digits: 2, Resolution: 0.01, PerKelvin: 0.0005, Uncertainty: "its manual"}}}

var logic = capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: 5}

func coarseBand(due string) Judge {
	rule, _ := impliedBand(logic)
	j := newBand(Case{Rule: rule, Rail: logic})
	j.Sit(at(1), Seat{Channel: coarse, Since: at(1), Due: due})
	return j
}

func reads(v float64) *capture.Reading {
	return &capture.Reading{Channel: coarse.ID, Quantity: capture.DCVoltage, Value: v, Resolution: 0.01}
}

// The window's lag-1 autocorrelation is that of the readings in it, computed
// anew, whatever was dropped before.
func TestWindowLag1(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := window{span: time.Second}
		var all []float64
		for i := range rapid.IntRange(3, 900).Draw(t, "readings") {
			v := 5 + 0.001*float64(rapid.IntRange(-9, 9).Draw(t, "counts"))
			w.add(at(0.002*float64(i)), v)
			all = append(all, v)
		}
		var m trend.Moments
		for _, v := range all[len(all)-w.n:] {
			m.Add(v)
		}
		if w.n < 3 {
			t.Fatalf("%d readings in the window", w.n)
		}
		if math.Abs(w.lag1()-m.Lag1()) > 1e-6 || math.Abs(w.effective()-m.Effective()) > 1e-3 {
			t.Fatalf("%d readings: %g, anew %g; effective %g and %g", w.n, w.lag1(), m.Lag1(), w.effective(), m.Effective())
		}
	})
}

// Readings that creep are worth fewer than readings that scatter, and so is
// their mean.
func TestEffectiveReadingsWidenTheVerdict(t *testing.T) {
	u := func(order []int) float64 {
		j := coarseBand("")
		for i, k := range order {
			j.Read(at(1+0.1*float64(i)), reads(5+0.01*float64(k)))
		}
		return j.Verdict().Uncertainty
	}
	scatters, creeps := u([]int{0, 6, 1, 7, 2, 8, 3, 9}), u([]int{0, 1, 2, 3, 6, 7, 8, 9})
	if scatters >= creeps {
		t.Errorf("the same readings: scattering %g V, creeping %g V", scatters, creeps)
	}
}

func TestRoomOfTheVerdict(t *testing.T) {
	j := coarseBand("")
	verdict := func(s float64) capture.Verdict { j.Read(at(s), reads(5)); return j.Verdict() }
	if v := verdict(2); !strings.Contains(v.Note, "assumed 23 °C") || !strings.Contains(v.Note, "half the band is “cannot tell” with this meter") || v.Outcome != capture.Pass || v.Overdue {
		t.Errorf("nobody told: %+v", v)
	}
	assumed := verdict(2.2).Uncertainty
	j.Room(Room{Celsius: 25, At: at(3)})
	if v := verdict(3.2); strings.Contains(v.Note, "assumed") || v.Uncertainty != assumed {
		t.Errorf("25 °C: %+v, before %g V", v, assumed)
	}
	j.Room(Room{Celsius: 38, At: at(4)})
	// By hand: 10 K of 0.05 % of 5 V add 25 mV rectangular: sqrt(0.052282² + 4·0.025²/3).
	if v := verdict(4.2); math.Abs(v.Uncertainty-math.Sqrt(assumed*assumed+4*0.025*0.025/3)) > 1e-9 {
		t.Errorf("38 °C: %g V", v.Uncertainty)
	}
	late := 4 + RoomLasts.Seconds() + 1
	if v := verdict(late); !strings.Contains(v.Note, "assumed 23 °C") || v.Uncertainty != assumed {
		t.Errorf("ten minutes later: %+v", v)
	}
	j.Room(Room{Celsius: 38, At: at(4), Typed: true})
	if v := verdict(late + 1); strings.Contains(v.Note, "assumed") {
		t.Errorf("typed holds longer: %+v", v)
	}
}

// The probability is that of the convolved shape: 45 mV and a count rectangular,
// at an edge one half, and nothing is said without a stated accuracy.
func TestProbabilityOfTheVerdict(t *testing.T) {
	for v, want := range map[float64]float64{5: 1, 5.1: 0.5, 5.08: 0.722, 5.3: 0} {
		j := coarseBand("")
		j.Read(at(2), reads(v))
		if got := j.Verdict(); math.Abs(got.Probability-want) > 0.003 {
			t.Errorf("%g V: %+v, want %g", v, got, want)
		}
	}
	bare := coarse
	bare.Accuracy = nil
	f := Figure{Channel: bare, Rail: logic, Readings: []capture.Reading{*reads(5)}}
	if j := f.Judge(); !j.Indicated || j.Expanded != 0 || j.Probability != 0 || j.NormalAssumed || len(j.Parts) != 0 || len(j.Notes) != 1 {
		t.Errorf("indicated only: %+v", j)
	}
}

func TestOverdueAtTheReading(t *testing.T) {
	day := capture.InstantOf(time.Date(2031, 3, 11, 12, 0, 0, 0, time.UTC))
	for due, want := range map[string]bool{"2031-03-10": true, "2031-03-11": false, "2031-03-12": false, "": false, "soon": false} {
		j := coarseBand(due)
		j.Read(day, reads(5))
		if v := j.Verdict(); v.Overdue != want || v.Outcome != capture.Pass || Overdue(due, day) != want {
			t.Errorf("due %q: %+v", due, v)
		}
	}
}

// A figure's budget adds up to what the verdict carries, and Mean says the same.
func TestFigureAddsUp(t *testing.T) {
	var list []capture.Reading
	for i := range 30 {
		list = append(list, *reads(5 + 0.01*float64(i%3)))
	}
	j := Figure{Channel: coarse, Rail: logic, Readings: list}.Judge()
	sum, weights := 0.0, 0.0
	for _, p := range j.Parts {
		sum, weights = sum+p.Standard*p.Standard, weights+p.Weight
		if math.Abs(p.Value/p.Divisor-p.Standard) > 1e-15 || p.Distribution == "" || p.Source == "" {
			t.Errorf("%+v", p)
		}
	}
	if math.Abs(weights-1) > 1e-12 {
		t.Errorf("the parts make %g of u²", weights)
	}
	if math.Abs(math.Sqrt(sum)-j.Standard) > 1e-12 || math.Abs(j.Coverage*j.Standard-j.Expanded) > 1e-15 || len(j.Parts) != 3 || j.Range != 20 || j.N != 30 {
		t.Errorf("%+v", j)
	}
	if math.Abs(j.GuardShare-j.Expanded/0.1) > 1e-9 || j.NormalAssumed {
		t.Errorf("share %g of U %g, normal assumed %v", j.GuardShare, j.Expanded, j.NormalAssumed)
	}
	m := Mean(coarse, logic, list)
	if m.Uncertainty != j.Expanded || m.Outcome != j.Outcome || m.Probability != j.Probability || m.Say != j.Say {
		t.Errorf("%+v and %+v", m, j)
	}
}

// Nulls that scatter make the resistance doubtful; one null has the scatter of
// tips.
func TestNullScatter(t *testing.T) {
	u := func(nulls ...float64) float64 {
		s := newShort(Case{Rule: capture.Rule{Name: "short", Kind: "short"}, Rail: logic}).(*short)
		ohms := capture.ChannelInfo{ID: "dmm/ohms", Quantity: capture.Resistance, Accuracy: []capture.Accuracy{{Range: 100, OfReading: 0.0001, OfRange: 0.00004, Resolution: 0.0001}}}
		for i, v := range nulls {
			s.Act(at(1+0.1*float64(i)), &capture.Act{Verb: capture.ActNull, Subject: "dmm", Value: v})
		}
		s.Sit(at(3), Seat{Channel: ohms, Since: at(3)})
		s.Read(at(4), &capture.Reading{Channel: ohms.ID, Quantity: capture.Resistance, Value: 8, Resolution: 0.0001, Range: 100})
		return s.Verdict().Uncertainty
	}
	none, one, steady, loose := u(), u(0.2), u(0.2, 0.201, 0.199), u(0.2, 0.35, 0.12)
	if mended := u(0.2, 5, 0.2); math.Abs(mended-one) > 1e-6 {
		t.Errorf("U after a mistyped null was mended %g, one null %g", mended, one)
	}
	if math.Abs(one*one-none*none-4*tips*tips) > 1e-5 || math.Abs(steady-one) > 1e-6 || loose < 2*one {
		t.Errorf("U without a null %g, one %g, steady %g, loose %g", none, one, steady, loose)
	}
}
