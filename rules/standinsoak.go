package rules

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/standin"
	"steadyrail/rules/uncertainty"
)

// soakedFor is how long a set must have been on before a temperature in it says
// anything: three time constants of an enclosure are 30 to 60 minutes (common
// practice).
const soakedFor = 30 * time.Minute

// judgedStandIn keeps the newest judgement of each candidate on each rail.
func (b *builder) judgedStandIn(at capture.Instant, act capture.Act) {
	j, ok := act.StandIn()
	if !ok {
		return
	}
	j.At = at
	b.out.StandIns = slices.DeleteFunc(b.out.StandIns, func(o capture.StandInJudged) bool { return o.Candidate == j.Candidate && o.Rail == j.Rail })
	b.out.StandIns = append(b.out.StandIns, j)
}

// standIns holds the estimate of each against what the watched span measured at
// its point.
func (b *builder) standIns() {
	for i := range b.out.StandIns {
		j := &b.out.StandIns[i]
		if j.Point != "" && len(j.Estimate) > 0 {
			j.Soaked = b.soaked(*j)
		}
	}
}

func (b *builder) soaked(j capture.StandInJudged) *capture.StandInSoaked {
	var e standin.Estimate
	if json.Unmarshal(j.Estimate, &e) != nil {
		return &capture.StandInSoaked{Word: string(standin.NotStated), Say: "The estimate that was kept cannot be read: judge the stand-in again."}
	}
	top, watch, why := b.endOf(func(point string) bool { return point == j.Point })
	if why != "" {
		return &capture.StandInSoaked{Word: string(standin.CannotTell), Say: fmt.Sprintf("No temperature at %s: %s.", j.Point, why)}
	}
	out := &capture.StandInSoaked{Channel: watch.Channel, At: watch.To}
	if on := watch.To.Sub(b.watched.From); on < soakedFor {
		out.Word, out.Say = string(standin.CannotTell), fmt.Sprintf("Measured %s after %s: a set is warm after half an hour to an hour.", capture.Celsius.Text(top.Value, 1), on.Round(time.Minute))
		return out
	}
	air, _, why := b.endOf(func(point string) bool { return strings.HasPrefix(strings.ToLower(point), PointAir) })
	if why != "" {
		out.Word, out.Say = string(standin.CannotTell), fmt.Sprintf("Measured %s; no temperature of the air beside it: %s. Place a channel at \"%s at the converter\".", capture.Celsius.Text(top.Value, 1), why, PointAir)
		return out
	}
	s := e.Against(top, air)
	out.Word, out.Say = string(s.Word), s.Say
	return out
}

// endOf is the mean at the end of what was watched at a point: of the last tenth of
// the span, with the uncertainty of its meter.
func (b *builder) endOf(is func(point string) bool) (standin.Figure, capture.Watch, string) {
	for _, w := range slices.Backward(b.out.Points) {
		info, _ := b.out.Roster.Channel(w.Channel)
		if !is(w.Point) || info.Quantity != capture.Temperature || w.N == 0 {
			continue
		}
		if len(info.Accuracy) == 0 {
			return standin.Figure{}, w, fmt.Sprintf("%s states no accuracy, so that it is indicated only", w.Channel)
		}
		value, ok := lastTenth(w)
		s := uncertainty.State(uncertainty.Input{Value: value, Resolution: w.Resolution, Accuracy: info.Accuracy, Unit: capture.Celsius})
		if !ok || !s.Stated {
			continue
		}
		return standin.Figure{Value: value, U: s.Expanded, Source: "measured: " + string(w.Channel)}, w, ""
	}
	return standin.Figure{}, capture.Watch{}, "none was measured in the warm-up or the soak"
}

func lastTenth(w capture.Watch) (mean float64, ok bool) {
	from := w.To - (w.To-w.From)/10
	var sum, n float64
	for _, b := range w.Series {
		if b.N > 0 && b.To > from {
			sum += float64(b.Mean * float64(b.N))
			n += float64(b.N)
		}
	}
	if n == 0 {
		return w.Mean, w.N > 0
	}
	return sum / n, true
}

// captured chooses what is said of what only an oscilloscope sees: whether a
// capture was judged for a stand-in.
func captured(d capture.Dossier, check, without, with string) string {
	for _, j := range d.StandIns {
		for _, c := range j.Checks {
			if c.Name == check {
				return with
			}
		}
	}
	return without
}
