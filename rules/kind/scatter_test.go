package kind

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"steadyrail/capture"
)

// scattered feeds a restless judge with readings of a normal series whose
// neighbours correlate by phi, rounded to a count.
func scattered(rng *rand.Rand, n int, sd, phi, count float64) *unrest {
	u := newUnrest(Case{Rule: capture.Rule{Kind: "unrest", Limit: 1}, Rail: capture.Rail{Name: "+5 V", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}}).(*unrest)
	u.Sit(1, Seat{Channel: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage}})
	noise := rng.NormFloat64()
	for i := range n {
		v := 5 + sd*noise
		if count > 0 {
			v = math.Round(v/count) * count
		}
		r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: count}
		u.Read(capture.Instant(2).Add(time.Duration(i)*time.Millisecond), &r)
		noise = phi*noise + math.Sqrt(1-phi*phi)*rng.NormFloat64()
	}
	return u
}

// The interval holds the standard deviation that made the readings, about as
// often as it says, and never where it says nothing.
func TestSpreadIntervalHoldsTheTruth(t *testing.T) {
	const sd, runs = 0.003, 1500
	for _, c := range []struct {
		n          int
		phi, count float64
		least      float64 // of the nominal 95.45 %
	}{
		{21, 0, 0, 0.92}, {50, 0, 0, 0.93}, {256, 0, 0, 0.93},
		{50, 0.5, 0, 0.92}, {256, 0.5, 0, 0.93}, {256, 0.9, 0, 0.88},
		{50, 0, 0.003, 0.97}, {50, 0, 0.01, 0.99}, {50, 0, 0.03, 0.99},
	} {
		rng := rand.New(rand.NewPCG(5, uint64(c.n)))
		held, said := 0, 0
		for range runs {
			u := scattered(rng, c.n, sd, c.phi, c.count)
			if math.IsInf(u.most, 1) {
				continue
			}
			if said++; u.low <= sd && sd <= u.most {
				held++
			}
		}
		share := float64(held) / float64(max(1, said))
		t.Logf("n %d phi %v count %v: said %d, held %.3f", c.n, c.phi, c.count, said, share)
		if share < c.least || said < runs/2 {
			t.Errorf("%d readings, correlation %v, count %v: holds the truth in %.3f of %d, want at least %v", c.n, c.phi, c.count, share, said, c.least)
		}
	}
}

// The middle of few normal readings is as wide as that of many.
func TestSpreadOfFewReadingsIsNotTooSmall(t *testing.T) {
	for _, n := range []int{20, 27, 51, 99, 256} {
		rng := rand.New(rand.NewPCG(6, uint64(n)))
		sum, square := 0.0, 0.0
		const runs = 2000
		for range runs {
			v := scattered(rng, n, 1, 0, 0).spread
			sum, square = sum+v, square+v*v
		}
		mean := sum / runs
		if math.Abs(mean-1) > 0.015 {
			t.Errorf("the spread of %d normal readings is %.3f of their standard deviation on average", n, mean)
		}
		// What the efficiency stands for: the scatter of the result.
		got, want := math.Sqrt(square/runs-mean*mean), math.Sqrt(1/(2*middleWorth*float64(n)))
		if math.Abs(got/want-1) > 0.08 {
			t.Errorf("the spread of %d readings scatters by %.4f, the formula has %.4f", n, got, want)
		}
	}
}

// All four outcomes, by how far the spread lies from the limit.
func TestUnrestOutcomes(t *testing.T) {
	for _, c := range []struct {
		sd, phi, count float64
		want           capture.Outcome
		say            string
	}{
		{0.3, 0, 0, capture.Pass, "Calm: "},
		{0.94, 0, 0, capture.ConditionalPass, "Cannot tell: "},
		{1.1, 0, 0, capture.ConditionalFail, "Cannot tell: "},
		{2, 0, 0, capture.Fail, "Restless: "},
		{0.1, 0.995, 0, capture.ConditionalPass, "Cannot tell, the readings hang together: "},
		{0.1, 0, 5, capture.ConditionalPass, "Cannot tell: "}, // all digits alike, and a count is five times the limit
	} {
		u := scattered(rand.New(rand.NewPCG(7, 7)), 100, c.sd, c.phi, c.count)
		v := u.Verdict()
		if v.Outcome != c.want || u.Outcome() != c.want || len(v.Say) < len(c.say) || v.Say[:len(c.say)] != c.say {
			t.Errorf("standard deviation %v, correlation %v, count %v: %v, %q; want %v, %q…", c.sd, c.phi, c.count, v.Outcome, v.Say, c.want, c.say)
		}
		if !v.Indicated {
			t.Errorf("no accuracy is stated, and the gain is said to be known")
		}
	}
}
