package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// injectionRun is one injection under way. Its output is off, or was given up on,
// when done is closed; err may be read then.
type injectionRun struct {
	job, output string
	ended       context.Context // over when it is to end early
	end         context.CancelFunc
	done        chan struct{}
	err         error       // nothing confirmed that the output is off
	flow        chan string // what was known of its current at first
	turn        int         // of the output before it was tried, see [rules.OutputDoubts.Turn]
}

// injecting are the injections under way. The zero value has none.
type injecting struct {
	mu   sync.Mutex
	runs []*injectionRun
}

// begin takes an output for an injection; nil: one is under way through it, or being
// ended.
func (i *injecting) begin(job, output string) *injectionRun {
	i.mu.Lock()
	defer i.mu.Unlock()
	if slices.ContainsFunc(i.runs, func(r *injectionRun) bool { return capture.SameOutput(r.output, output) }) {
		return nil
	}
	run := &injectionRun{job: job, output: output, done: make(chan struct{}), flow: make(chan string, 1)}
	run.ended, run.end = context.WithCancel(context.Background())
	i.runs = append(i.runs, run)
	return run
}

// over has the injections through an output end, or those of an instrument.
func (i *injecting) over(subject string) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for _, run := range i.runs {
		if (capture.Act{Subject: subject}).Concerns(run.output) {
			run.end()
		}
	}
}

// finish forgets an injection whose output is off, or could not be switched off.
func (i *injecting) finish(run *injectionRun, err error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	run.end()
	run.err = err
	i.runs = slices.DeleteFunc(i.runs, func(r *injectionRun) bool { return r == run })
	close(run.done)
}

// on reports whether an injection through the output, or one of the instrument's,
// is under way and was not told to end.
func (i *injecting) on(subject string) bool {
	i.mu.Lock()
	defer i.mu.Unlock()
	return i.under(subject)
}

func (i *injecting) under(subject string) bool {
	return slices.ContainsFunc(i.runs, func(r *injectionRun) bool { return r.ended.Err() == nil && capture.SameOutput(r.output, subject) })
}

// settle waits until the injections through an output that are being ended are over:
// they insist on off, and would take away what is switched on meanwhile.
func (i *injecting) settle(ctx context.Context, subject string) error {
	for _, run := range i.ending(subject) {
		select {
		case <-run.done:
		case <-ctx.Done():
			return &dashboards.Error{Kind: dashboards.Unavailable, Detail: "switch " + subject + " on: an injection through " + run.output + " is being ended", Err: ctx.Err(), Hint: "try again in a moment"}
		}
	}
	return nil
}

func (i *injecting) ending(subject string) (out []*injectionRun) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for _, r := range i.runs {
		if r.ended.Err() != nil && capture.SameOutput(r.output, subject) {
			out = append(out, r)
		}
	}
	return out
}

// of lists the injections of a job, also those that are being ended.
func (i *injecting) of(job string) []*injectionRun {
	i.mu.Lock()
	defer i.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(i.runs), func(r *injectionRun) bool { return r.job != job })
}

// endInjections ends the injections of a job before it is closed or enters
// another stage: whatever became of them must stand in its record, and off is
// always the safe way. It returns their outputs. Where nothing confirms that one
// is off, the job stays as it is, once: its alarm is what calls a person.
func (a *App) endInjections(ctx context.Context, j *openJob, what string) (ended []string, err error) {
	for _, run := range a.injections.of(j.id) {
		run.end()
		select {
		case <-run.done:
		case <-ctx.Done():
			return ended, &dashboards.Error{Kind: dashboards.Unavailable, Detail: what + ": its injection through " + run.output + " is being ended", Err: ctx.Err()}
		}
		if run.err != nil {
			return ended, &dashboards.Error{
				Kind: dashboards.Conflict, Detail: fmt.Sprintf("%s: its injection through %s did not end: %s is NOT confirmed off", what, run.output, run.output), Err: run.err,
				Hint: "switch it off by hand, then try again",
			}
		}
		ended = append(ended, run.output)
	}
	return ended, nil
}

// endedFirst says what a change of stage ended; empty: nothing.
func endedFirst(outputs []string) string {
	if len(outputs) == 0 {
		return ""
	}
	return " The injection through " + strings.Join(outputs, " and ") + " was ended first: its output is off."
}

// watchInjection puts the rule in force that watches over an injection. An
// injection names no rail; its alarm stands on the first whose cold check has
// not passed: that is the one being walked down.
func (a *App) watchInjection(j *openJob, output string) error {
	set := j.book.Rules()
	watches := func(r capture.Rule) bool { return r.Kind == "injection" && r.Against == output }
	never, stale, _ := unpassed(j)
	rails := slices.Concat(never, stale, []string{j.book.Sheet().Rails[0].Name})
	if slices.ContainsFunc(set.Rules, watches) {
		return nil
	}
	set.Rules = append(slices.Clone(set.Rules), capture.Rule{Name: "injection through " + output, Kind: "injection", Rail: rails[0], Severity: capture.Urgent, Against: output, Implied: true})
	_, err := a.bus.Post(j.id, set)
	return err
}
