package coverage

import (
	"errors"
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// ErrQuestion wraps what is wrong with a question to [Plan].
var ErrQuestion = errors.New("cannot plan a soak")

// The least and the greatest confidence that a plan is made for.
const (
	leastConfidence    = 0.5
	greatestConfidence = 0.999
)

// aNight is the soak that is done when nobody plans one.
const aNight = 8 * time.Hour

// CyclesNeeded returns how many power cycles without a failure it takes to show,
// with the given confidence, that fewer than this share of them fails: the
// inverse of [UpperShare]. It is 0 where an argument makes no sense.
func CyclesNeeded(share, confidence float64) int {
	if !(share > 0) || !(share < 1) || !within(confidence) {
		return 0
	}
	// Less a hair, so that what is exact is not asked for once more.
	return max(1, int(math.Ceil(elementary.Log1p(-confidence)/elementary.Log1p(-share)-1e-9)))
}

// Plan says how long a soak must last, or how many power cycles it takes, to
// show that a fault comes less often than it did, and what that does not show.
// It claims no acceleration: heat and shaking change the rate by a factor that
// nobody knows without the mechanism. Errors wrap [ErrQuestion].
func Plan(q capture.SoakQuestion) (capture.SoakPlan, error) {
	if err := checked(&q); err != nil {
		return capture.SoakPlan{}, err
	}
	p := &plan{q: q, out: capture.SoakPlan{Confidence: q.Confidence, FailedEvery: q.Every.Seconds(), Warm: q.Warm.Seconds()}}
	if q.Every > 0 {
		p.hours()
	}
	if q.Cycles > 0 {
		p.cycles()
	}
	p.conditions()
	return p.out, nil
}

// checked fills in defaults and refuses what has no answer.
func checked(q *capture.SoakQuestion) error {
	if q.Confidence == 0 {
		q.Confidence = Confidence
	}
	if q.Depth == 0 {
		q.Depth = DefaultDepth
	}
	switch {
	case q.Every < 0 || q.Dip < 0 || q.Warm < 0 || q.Aperture < 0 || q.Period < 0:
		return fmt.Errorf("%w: a length of time is negative", ErrQuestion)
	case q.Every == 0 && q.Cycles == 0:
		return fmt.Errorf("%w: how often did it fail before? once in 24 h, or in 1 of 20 power cycles", ErrQuestion)
	case q.Cycles > 0 && (q.CyclesFailed < 1 || q.CyclesFailed >= q.Cycles):
		return fmt.Errorf("%w: %d of %d power cycles failed: a fault in every cycle, or in none, needs no plan", ErrQuestion, q.CyclesFailed, q.Cycles)
	case !(q.Confidence >= leastConfidence) || !(q.Confidence <= greatestConfidence+1e-9):
		return fmt.Errorf("%w: a confidence lies between 50 and 99.9 %%", ErrQuestion)
	case !(q.Depth > 0) || q.Depth > 1:
		return fmt.Errorf("%w: the depth of a dip lies between 0 and 100 %%", ErrQuestion)
	case q.Dip > 0 && (q.Aperture <= 0 || q.Period <= 0):
		return fmt.Errorf("%w: whether a dip is seen depends on the meter: name one whose aperture is known, or give aperture and every", ErrQuestion)
	case q.Dip > 0 && q.Aperture > q.Period:
		return fmt.Errorf("%w: no meter looks for longer (%s) than it takes from reading to reading (%s)", ErrQuestion, Long(q.Aperture), Long(q.Period))
	}
	return nil
}

// plan gathers an answer.
type plan struct {
	q   capture.SoakQuestion
	out capture.SoakPlan
}

func (p *plan) say(format string, args ...any) {
	p.out.Say = append(p.out.Say, fmt.Sprintf(format, args...))
}

func (p *plan) hours() {
	q := p.q
	clean := SoakNeeded(q.Every, q.Confidence, 1)
	p.out.Clean = clean.Seconds()
	p.say("It failed about once in %s: %s without a failure say with %s confidence that under the same conditions it fails less often than that%s.",
		Long(q.Every), LongUp(clean), portion(q.Confidence), p.lesser(clean))
	needed := clean
	if q.Dip > 0 {
		needed = p.dip()
	}
	if needed > 0 {
		p.out.Planned = (needed + q.Warm).Seconds()
	}
	if q.Warm > 0 {
		p.say("It never failed in the first %s: they do not count, and are added to what is planned.", Long(q.Warm))
	}
	rare := 10 * q.Every
	p.say("It would not show that the fault is gone: one that comes once in %s gets through %s without a failure in %s of cases.",
		Long(rare), LongUp(clean), capture.Figure(100*elementary.Exp(-clean.Hours()/rare.Hours()), 1)+" %")
	low, high := RateInterval(1, q.Every, Confidence)
	p.say("If it was seen to fail only once, that it comes once in %s is a guess: one failure in that time fits anything from once in %s to once in %s (95 %%).",
		Long(q.Every), Long(hoursOf(1/high)), Long(hoursOf(1/low)))
}

// lesser tells what less time would say.
func (p *plan) lesser(clean time.Duration) string {
	out := ""
	if p.q.Confidence > 0.9 {
		out = "; " + LongUp(SoakNeeded(p.q.Every, 0.9, 1)) + " say it with 90 %"
	}
	if clean > aNight {
		out += fmt.Sprintf("; a night of %s with %s only", Long(aNight), capture.Figure(math.Floor(-100*elementary.Expm1(-aNight.Hours()/p.q.Every.Hours())), 1)+" %")
	}
	return out
}

func hoursOf(h float64) time.Duration { return time.Duration(min(h, 1e6) * float64(time.Hour)) }

// dip discounts the soak by the chance that the meter sees such a dip, and
// returns its length, 0 when no length is enough.
func (p *plan) dip() time.Duration {
	q := p.q
	seen := Chance(q.Dip, q.Aperture, q.Period, q.Depth, DefaultThreshold)
	clean := SoakNeeded(q.Every, q.Confidence, seen)
	sure, _ := SureDip(q.Aperture, q.Period, q.Depth, DefaultThreshold)
	p.out.Dip = &capture.DipPlan{Length: q.Dip.Seconds(), Depth: q.Depth, Aperture: q.Aperture.Seconds(), Every: q.Period.Seconds(), Seen: seen, Clean: clean.Seconds(), Sure: sure.Seconds()}
	what := fmt.Sprintf("A single dip of %s, %s deep,", Long(q.Dip), portion(q.Depth))
	meter := fmt.Sprintf("this meter, which looks for %s every %s", Long(q.Aperture), Long(q.Period))
	switch {
	case seen <= 0:
		p.say("%s is never seen by %s: no soak with it shows that such a fault is gone.%s", what, meter, certain(sure))
	case seen >= 1:
		p.say("%s cannot be missed by %s.", what, meter)
	default:
		p.say("%s is seen with chance %s by %s: if that is how it fails, it takes %s.%s", what, capture.Figure(seen, 0.01), meter, LongUp(clean), certain(sure))
	}
	return clean
}

// certain tells which dips the meter does not miss.
func certain(sure time.Duration) string {
	if sure <= 0 {
		return " It is sure to see none of that depth, however long."
	}
	return " It is sure to see one of " + Long(sure+time.Millisecond-1) + " or longer."
}

func (p *plan) cycles() {
	q := p.q
	share := float64(q.CyclesFailed) / float64(q.Cycles)
	p.out.Cycles = CyclesNeeded(share, q.Confidence)
	low, high := ShareInterval(q.CyclesFailed, q.Cycles, Confidence)
	p.say("It failed in %d of %s power cycles: %s cycles in a row without a failure say with %s confidence that fewer than that share fail.",
		q.CyclesFailed, Count(q.Cycles), Count(p.out.Cycles), portion(q.Confidence))
	p.say("Fewer leave more possible: 10 cycles without a failure a share of up to %s, 30 up to %s.", percentage(UpperShare(10, q.Confidence)), percentage(UpperShare(30, q.Confidence)))
	p.say("The share it failed with is not known well itself: what was counted fits anything from %s to %s (95 %%).", percentage(low), percentage(high))
}

// percentage prints a share with two digits.
func percentage(share float64) string {
	v := 100 * share
	if v >= 10 {
		return capture.Figure(v, 1) + " %"
	}
	return capture.Figure(v, capture.Decade(max(v, 1e-6))/10) + " %"
}

func (p *plan) conditions() {
	p.say("All this takes the rate to be constant under the same conditions: keep load, covers, room temperature and mains as they were when it failed, and write them down. Heat or shaking is not counted as faster time.")
}

// LongUp prints a length of time as [Long] does, rounded up: what is asked for
// must not shrink.
func LongUp(d time.Duration) string {
	for _, u := range []time.Duration{time.Hour, time.Minute, time.Second} {
		if d < u {
			continue
		}
		step := u / 10
		if d >= 10*u {
			step = u
		}
		return Long((d + step - 1) / step * step)
	}
	return Long(d + time.Millisecond - 1)
}
