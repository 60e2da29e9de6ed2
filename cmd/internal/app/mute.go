package app

import (
	"fmt"
	"slices"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// mayMute refuses a mute of what is not there: a misspelt one would be quiet
// about nothing, and the alarm rings on. One that is in force may always end.
func (a *App) mayMute(j *openJob, act capture.Act) error {
	view, _ := a.Snapshot().Job(j.id)
	inForce := slices.ContainsFunc(view.Mutes, func(m capture.Mute) bool { return m.Subject == act.Subject })
	if act.Value == 0 && inForce || means(j.book, act.Subject) || len(a.openAlarms(j, act.Subject)) > 0 {
		return nil
	}
	return &dashboards.Error{
		Kind: dashboards.NotFound, Detail: fmt.Sprintf("mute: there is no alarm, rule or rail %s in job %s", act.Subject, j.id),
		Hint: "the rules in force stand in /rules, the open alarms come with: steadyrail alarms",
	}
}
