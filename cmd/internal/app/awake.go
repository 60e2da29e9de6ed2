package app

import (
	"steadyrail/capture"
	"steadyrail/cmd/internal/awake"
)

// vigil keeps the computer awake while a soak runs. It belongs to the goroutine of
// the plans. The zero value is ready.
type vigil struct {
	held  func()
	tried bool // for the soaks that run now
}

func (v *vigil) end() {
	if v.held != nil {
		v.held()
	}
	v.held, v.tried = nil, false
}

// keepAwake takes the inhibitor when a soak runs and gives it back when none
// does. Where it cannot be had, the record says so once.
func (a *App) keepAwake() {
	job := a.soakingJob()
	switch {
	case job == nil:
		a.vigil.end()
	case !a.vigil.tried && (a.o.Inhibit != nil || !a.o.Simulated):
		a.vigil.tried = true
		release, err := a.inhibit("a soak of job " + job.id + " runs")
		if a.vigil.held = release; err != nil {
			a.log.Warn().Err(err).Str("job", job.id).Msg("this computer may fall asleep during the soak")
			a.post(job, capture.Act{Verb: capture.ActNote, Text: "This computer may fall asleep during the soak, which would be a hole in it: " + err.Error() + ". Switch its sleep off by hand.", By: capture.ByPlan})
		}
	}
}

func (a *App) inhibit(why string) (func(), error) {
	if a.o.Inhibit != nil {
		return a.o.Inhibit(why)
	}
	return awake.Inhibit(why)
}

// soakingJob is an open job whose soak runs; nil: there is none.
func (a *App) soakingJob() *openJob {
	for _, j := range a.openJobs() {
		if s := j.book.Soaks(); len(s) > 0 && s[len(s)-1].To == 0 {
			return j
		}
	}
	return nil
}
