package rules

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// toldStep is a step of the plan of a soak that was done, as the record tells it.
type toldStep struct {
	at           capture.Instant
	number       int
	say, verdict string
}

func (b *builder) step(at capture.Instant, act capture.Act) {
	if word, verdict, _ := strings.Cut(act.Text, ": "); word == capture.StepDone {
		b.steps = append(b.steps, toldStep{at, int(act.Value), act.Subject, verdict})
	}
}

// mostTold bounds how many steps are told one by one.
const mostTold = 12

// stepsSay says what the steps of the soak's plan came to. Those in which nothing
// was to be measured and no alarm came, power off among them, have nothing to say.
func (b *builder) stepsSay(s *capture.SoakEvidence) (out []string) {
	more := 0
	for _, t := range b.steps {
		switch {
		case t.at < s.From || t.at > s.To || t.verdict == capture.QuietStep:
		case len(out) == mostTold:
			more++
		default:
			out = append(out, fmt.Sprintf("Step %d of the plan (%s): %s.", t.number, t.say, t.verdict))
		}
	}
	if more > 0 {
		out = append(out, fmt.Sprintf("%d more steps stand in the journal.", more))
	}
	return out
}
