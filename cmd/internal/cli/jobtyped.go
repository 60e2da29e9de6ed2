package cli

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/cmd/internal/app"
)

// typedBeside returns the newest value that was read by eye on a rail, when it
// is younger than everything else that is said of the rail in its unit.
func typedBeside(b *job.Book, said []capture.Result, rail string) (newest job.Reading, any bool) {
	for _, r := range b.Typed() {
		if r.Rail == rail && judgedUnit(r.Reading.Quantity) {
			newest, any = r, true
		}
	}
	for _, v := range said {
		if v.Quantity == newest.Reading.Quantity && v.At >= newest.At {
			return newest, false
		}
	}
	return newest, any
}

// judgedUnit reports whether a quantity is one that a rail is judged by.
func judgedUnit(q capture.Quantity) bool { return q == capture.DCVoltage || q == capture.Resistance }

// typedWords says where a value read by eye came from, how old it is, and the
// rail's word about it.
func typedWords(b *job.Book, rail capture.Rail, r job.Reading, now capture.Instant) string {
	say := "read by eye"
	if meter, _ := r.Reading.Channel.ByEyeMeter(); meter != "" {
		say += " from " + meter
	}
	say += ", " + typedAge(r.At, now)
	if v, ok := app.JudgeTyped(b, rail, r.Reading); ok {
		return app.TypedWord(v) + "; " + say
	}
	return say
}

// typedAge says how long ago something was; of what a fast bench dates later
// than now, when.
func typedAge(at, now capture.Instant) string {
	switch d := now.Sub(at); {
	case d < 0:
		return "at " + day(at)
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s ago", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min ago", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h ago", d.Hours())
	}
	return fmt.Sprintf("%.0f days ago", now.Sub(at).Hours()/24)
}

func readingText(r capture.Reading) string {
	if !r.HasValue() {
		return "over range"
	}
	return r.Quantity.Unit().Text(r.Value, r.Resolution)
}

// stageAt is the stage of the job at an instant.
func stageAt(d capture.Dossier, at capture.Instant) capture.Stage {
	var stage capture.Stage
	for _, s := range d.Stages {
		if s.From <= at {
			stage = s.Stage
		}
	}
	return stage
}
