package app

import (
	"context"
	"fmt"

	"steadyrail/capture"
)

// readBackAll has the protection of an instrument that has just connected read
// back, in every job that programmed it and where that is in doubt: after a lost
// link, or since the program was started. Only what reads back as it was
// programmed arms a trip again; nothing is programmed here.
func (a *App) readBackAll(instrument string) {
	for _, j := range a.openJobs() {
		for _, p := range j.guards() {
			if (capture.Act{Subject: p.Subject}).Instrument() == instrument && p.Programmed() && !p.Armed() {
				a.switcher.do(func(ctx context.Context) { a.readBack(ctx, j, p) })
			}
		}
	}
}

// connectedAnew reports, once for each connection, that an instrument has come.
func (a *App) connectedAnew(s pollState) bool {
	a.infoMu.Lock()
	defer a.infoMu.Unlock()
	if !s.Up || a.readSince[s.Name] == s.Since {
		return false
	}
	a.readSince[s.Name] = s.Since
	return true
}

func (a *App) readBack(ctx context.Context, j *openJob, p capture.Protection) {
	act := capture.Act{Verb: capture.ActReadBack, Subject: p.Subject, Text: p.Text(), By: capture.ByTrip}
	said, err := a.loopOf[act.Instrument()].Do(ctx, act.Instrument(), act)
	if err != nil {
		a.log.Warn().Err(err).Str("job", j.id).Str("output", p.Subject).Msg("the protection does not read back as it was programmed")
		a.say(j, "", fmt.Sprintf("the protection of %s did not read back as it was programmed: set its limits again", p.Subject))
		return
	}
	act.Text = said
	a.post(j, act)
}

// guarding keeps what the records tell of a job's protections and of work on its
// board, beside its book.
type guarding struct {
	app *App
	job *openJob
}

// Consume takes the next record of the job.
func (s guarding) Consume(rec capture.Record) {
	s.job.guardMu.Lock()
	defer s.job.guardMu.Unlock()
	s.job.guard.Consume(rec)
	s.job.works.Consume(rec)
	for _, news := range s.job.flows.Consume(rec) {
		s.app.switcher.do(func(context.Context) { s.app.flows(s.job, news) })
	}
	for _, output := range s.job.outputs.Consume(rec) {
		s.app.switcher.do(func(ctx context.Context) { s.app.lookAtOutput(ctx, s.job, output) })
	}
}

// guards lists what is known of the protection of the job's supplies.
func (j *openJob) guards() []capture.Protection {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	return j.guard.All()
}

// protection returns what is known of the protection of one output.
func (j *openJob) protection(output string) capture.Protection {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	return j.guard.Of(output)
}

// keepSaid remembers what was said of the rails' shorts while there was something to
// judge.
func (j *openJob) keepSaid(verdicts []capture.Verdict) {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	for _, v := range verdicts {
		if v.Kind != "short" || v.N == 0 {
			continue
		}
		if j.said == nil {
			j.said = map[string]string{}
		}
		j.said[v.Rail] = v.Say
	}
}
