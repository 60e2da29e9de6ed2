package app

import (
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
)

// answer hears alarms or resets their latches. A subject that means nothing is
// refused: a mistyped name would leave the alarm unheard and nobody the wiser.
func (a *App) answer(j *openJob, act capture.Act) (dashboards.Result, error) {
	open := a.openAlarms(j, act.Subject)
	if len(open) == 0 && !means(j.book, act.Subject) {
		hint := "no alarm is open"
		if all := a.openAlarms(j, ""); len(all) > 0 {
			hint = "open alarms: " + strings.Join(all, ", ")
		}
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("%s: %q is no open alarm of job %s", act.Verb, act.Subject, j.id), Hint: hint}
	}
	at, err := a.bus.Post(j.id, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	say := job.Entry(act)
	switch {
	case len(open) == 0 && j.awakens(act):
		say = fmt.Sprintf("A key was pressed: the count of %q begins anew.", act.Subject)
	case len(open) == 0:
		say = fmt.Sprintf("No alarm of %s is open.", act.Subject)
	case act.Verb == capture.ActReset && len(a.openAlarms(j, act.Subject)) > 0:
		say = fmt.Sprintf("%s has not gone: its latch can be reset when it has.", act.Subject)
	}
	return dashboards.Result{Job: j.id, At: at, Say: say}, nil
}

// awakens reports whether an answer says that a key was pressed on a meter that
// might have switched itself off, see kind auto-off.
func (j *openJob) awakens(act capture.Act) bool {
	return act.Verb == capture.ActHeard && slices.ContainsFunc(j.book.Rules().Rules, func(r capture.Rule) bool { return r.Name == act.Subject && r.Kind == "auto-off" })
}

// means reports whether a subject is a rail or a rule of the job.
func means(b *job.Book, subject string) bool {
	_, isRail := b.Sheet().Rail(subject)
	return isRail || slices.ContainsFunc(b.Rules().Rules, func(r capture.Rule) bool { return r.Name == subject })
}

// openAlarms names the open alarms that a subject means: an alarm, a rule, a
// rail, or everything when it is empty.
func (a *App) openAlarms(j *openJob, subject string) []string {
	var out []string
	view, _ := a.Snapshot().Job(j.id)
	for _, t := range view.Alarms {
		if subject == "" || subject == t.Alarm || subject == t.Rule || subject == t.Rail {
			out = append(out, t.Alarm)
		}
	}
	return out
}
