package app

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers"
)

// leftOver looks at what the last run left half done in the jobs that go on. An
// output that was being switched off may be on: nothing is switched now, the
// rules watch again, and a trip that was under way becomes the alarm that a
// person must see to.
//
// An injection whose minute nobody ended is the one thing that a start switches,
// and only off: its permit was for a minute. Where its amounts do not read back,
// somebody has taken the supply over, and it is left alone.
func (a *App) leftOver() {
	for _, j := range a.openJobs() {
		entries := j.book.Entries()
		for _, act := range halfDone(entries) {
			act.Text, act.Value = capture.NotConfirmed, 0
			a.post(j, act) // the others have announcements of their own
		}
		for _, act := range injectedOn(entries) {
			a.switcher.do(func(ctx context.Context) { a.endLeftOver(ctx, j, act) })
		}
	}
}

// halfDone returns the output acts that were announced and about which nothing
// came after.
func halfDone(entries []capture.Entry) []capture.Act {
	var out []capture.Act
	for _, e := range entries {
		if e.Act.Verb != capture.ActOutput {
			continue
		}
		out = slices.DeleteFunc(out, func(o capture.Act) bool { return e.Act.Concerns(o.Subject) })
		if e.Act.Text == capture.SwitchingOff {
			out = append(out, e.Act)
		}
	}
	return out
}

// injectedOn returns the starts of injections that nothing ended.
func injectedOn(entries []capture.Entry) []capture.Act {
	var out []capture.Act
	for _, e := range entries {
		ends := e.Act.Verb == capture.ActInject || e.Act.Verb == capture.ActOutput && e.Act.Text == "off"
		if ends {
			out = slices.DeleteFunc(out, func(o capture.Act) bool { return e.Act.Concerns(o.Subject) })
		}
		if e.Act.Verb == capture.ActInject && e.Act.Value > 0 {
			out = append(out, e.Act)
		}
	}
	return out
}

// leftOverEvery is how often it is looked whether the supply has come, in wall
// time.
const leftOverEvery = 200 * time.Millisecond

// endLeftOver switches off what an injection of the last run switched on, as soon
// as its supply is there. A link that fails says nothing of how the supply is
// set: it is looked at again.
func (a *App) endLeftOver(ctx context.Context, j *openJob, start capture.Act) {
	why, run := "its supply is no longer in the configuration", &injectionRun{output: start.Subject, turn: j.turnOf(start.Subject)}
	for a.awaitUp(ctx, start.Instrument()) {
		err := a.readsBackAs(ctx, start)
		if err == nil {
			_ = a.switchInjectionOff(ctx, j, run, "the program ended in it") // it stands in the record and is an alarm
			return
		}
		if errors.Is(err, drivers.ErrRefused) || errors.Is(err, drivers.ErrNotAllowed) {
			why = "the supply is set otherwise now"
			a.log.Warn().Err(err).Str("output", start.Subject).Msg("an injection was under way when the program ended; its amounts do not read back, so the output is left as it is")
			break
		}
	}
	if ctx.Err() == nil {
		a.post(j, capture.Act{Verb: capture.ActInject, Subject: start.Subject, Text: "nobody ended it, and " + why + ": look at its output", By: capture.ByInject})
	}
}

// readsBackAs tells whether a supply still has the amounts of an injection.
func (a *App) readsBackAs(ctx context.Context, start capture.Act) error {
	amounts := "volts " + capture.LimitIn(cutStart(start.Text), "volts") + ", amperes " + capture.LimitIn(cutStart(start.Text), "amperes")
	look := capture.Act{Verb: capture.ActReadBack, Subject: start.Subject, Text: amounts}
	_, err := a.loopOf[look.Instrument()].Do(ctx, look.Instrument(), look)
	return err
}

// awaitUp waits until an instrument is connected. It never is when the program
// ends before or there is no such instrument.
func (a *App) awaitUp(ctx context.Context, name string) bool {
	look := time.NewTicker(leftOverEvery)
	defer look.Stop()
	for {
		select {
		case <-look.C: // before the first look too: after a failed exchange it paces the next
		case <-ctx.Done():
			return false
		}
		if s, ok := a.pollState(name); !ok || s.Up {
			return ok
		}
	}
}

// cutStart takes the word off that an injection's start begins with.
func cutStart(text string) string {
	_, amounts, _ := strings.Cut(text, ": ")
	return amounts
}
