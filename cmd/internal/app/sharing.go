package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
)

// One supply may serve the rails of several open jobs. What is done to it is
// recorded in each that it concerns: in one where nobody said so, a rail that
// goes down with it would be a collapse, and a protection that somebody set
// would still count as this job's own.

// concerns reports whether an act on a supply's output is one of the job's, too:
// a channel of its instrument stands in it, or an alarm of it trips the output.
func (a *App) concerns(j *openJob, subject string) bool {
	if standsIn(j, subject) {
		return true
	}
	return slices.ContainsFunc(j.book.Rules().Rules, func(r capture.Rule) bool { return r.Trip != "" && capture.SameOutput(r.Trip, subject) })
}

// others lists the open jobs but for one, nil for all.
func (a *App) others(but *openJob) []*openJob {
	return slices.DeleteFunc(a.openJobs(), func(j *openJob) bool { return j == but })
}

// share records an act on an output in the other jobs that it concerns. Their
// trips did not do it, and their delays are not its own.
func (a *App) share(j *openJob, act capture.Act) {
	if j != nil && (act.By == capture.ByTrip || act.By == capture.ByInject) {
		act.By, act.Value = act.By+" of "+capture.ElsewhereBy(j.id), 0
	}
	for _, other := range a.others(j) {
		if a.concerns(other, act.Subject) {
			a.post(other, act)
		}
	}
}

// mark is postOutput where nobody waits for its outcome.
func (a *App) mark(j *openJob, act capture.Act) {
	a.post(j, act)
	a.share(j, act)
}

// postOutput records what became of an output, in the job that it was done for
// and in those that it concerns.
func (a *App) postOutput(j *openJob, act capture.Act) (capture.Instant, error) {
	at, err := a.bus.Post(j.id, act)
	a.share(j, act) // whatever became of the one: it was done
	return at, err
}

// postDone records what an instrument has confirmed: of an output in every job
// that it concerns.
func (a *App) postDone(j *openJob, act capture.Act) (capture.Instant, error) {
	if act.Verb == capture.ActOutput {
		return a.postOutput(j, act)
	}
	return a.bus.Post(j.id, act)
}

// doubtElsewhere tells the other jobs that a protection which they programmed was
// set otherwise, and has it read back there. It returns what a person is told.
func (a *App) doubtElsewhere(j *openJob, act capture.Act) string {
	var ids []string
	for _, other := range a.others(j) {
		for _, p := range other.guards() {
			if !p.Programmed() || !capture.SameOutput(act.Subject, p.Subject) || !p.Differs(act.Text) {
				continue
			}
			a.post(other, capture.Act{Verb: capture.ActElsewhere, Subject: p.Subject, Text: act.Text, By: capture.ElsewhereBy(j.id)})
			a.switcher.do(func(ctx context.Context) { a.readBack(ctx, other, p) })
			ids = append(ids, other.id)
		}
	}
	if len(ids) == 0 {
		return ""
	}
	return fmt.Sprintf(" Job %s programmed another protection there: it cannot be relied on until it is set again.", strings.Join(ids, ", "))
}
