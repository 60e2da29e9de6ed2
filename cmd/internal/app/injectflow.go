package app

import (
	"context"
	"time"

	"steadyrail/capture"
	"steadyrail/rules"
)

// flowWait is how long whoever switches an injection on waits to be told what flows,
// on the bench's clock: two readings of a supply that is asked once a second.
const flowWait = 3 * time.Second

// flowSoon waits until it is known what flows, and says it. Where that takes longer,
// a person has to look.
func (a *App) flowSoon(asker context.Context, run *injectionRun) string {
	over, stop := a.clock.After(flowWait)
	defer stop()
	select {
	case said := <-run.flow:
		return capture.Capital(said) + "."
	case <-over:
	case <-run.ended.Done():
	case <-asker.Done():
	}
	return "Look what it reads: when next to nothing flows, its leads are not on the shorted rail and its return."
}

// flows tells news of an injection: to whoever switched it on, and, where next to
// nothing flows, to the record. It is the measurement that is told; nothing is
// switched by it.
func (a *App) flows(j *openJob, news rules.Flowing) {
	a.injections.flows(j.id, news)
	if news.Nothing {
		a.post(j, capture.Act{Verb: capture.ActNote, Text: "injection through " + news.Output + ": " + news.Say, By: capture.ByInject})
	}
}

// flows hands what is known of an injection's current to whoever waits for it.
func (i *injecting) flows(job string, news rules.Flowing) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for _, run := range i.runs {
		if run.job != job || run.output != news.Output {
			continue
		}
		select {
		case run.flow <- news.Say:
		default: // it was told already
		}
	}
}
