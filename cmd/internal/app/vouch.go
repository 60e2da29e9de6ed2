package app

import (
	"fmt"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/rules/earth"
)

// vouches lists what was vouched for in a job.
func vouches(j *openJob) (out []earth.Vouch) {
	for _, e := range j.book.Entries() {
		if e.Act.Verb != capture.ActVouch {
			continue
		}
		if v, ok := earth.ParseVouch(e.Act.Subject); ok {
			out = append(out, v)
		}
	}
	return out
}

// mayVouch refuses a word for what is not there, and on the mains side.
func (a *App) mayVouch(j *openJob, act capture.Act) error {
	v, ok := earth.ParseVouch(act.Subject)
	what := "vouch for " + act.Subject
	rail, onSheet := j.book.Sheet().Rail(v.Rail)
	switch {
	case !ok:
		return nil // the job says what it needs
	case a.info(v.Instrument).Name == "":
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("%s: there is no instrument %s", what, v.Instrument)}
	case !onSheet:
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("%s: there is no rail %q on the sheet", what, v.Rail)}
	case rail.Side == capture.Mains:
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: what + ": " + v.Rail + " is on the mains side, where nobody's word stands for a rating",
			Hint: "state in the configuration what stands on the instrument and in its manual, or use another one",
		}
	}
	return nil
}

// mustNot is the refusal of a lead, with what a person can do about it.
func mustNot(what string, no *earth.Refusal) error {
	hint := no.Advice + ".\n"
	if no.Unrated != (earth.Vouch{}) && !no.Final {
		hint += "If you know better, say it once more with --vouch \"the reason\", which stands in the record.\n"
	}
	return &dashboards.Error{Kind: dashboards.Refused, Detail: what + ": " + strings.TrimSuffix(no.Detail, "."), Hint: hint + earth.Caution}
}

// mayHaveStood holds a value that was read from the display of an instrument of
// the bench to what its lead must not do: it stood there, whoever read it. A
// handheld runs from its battery, and its low is no wire of the bench.
func (a *App) mayHaveStood(j *openJob, t dashboards.Typed, rail capture.Rail, q capture.Quantity) error {
	for _, ch := range a.info(t.Meter).Channels {
		if ch.Quantity != q || ch.Setpoint {
			continue
		}
		if no, _ := a.board(j).Check(capture.Placement{Channel: ch.ID, Rail: rail.Name, Point: t.Point}); no != nil {
			return mustNot(fmt.Sprintf("enter what %s shows on %s", t.Meter, rail.Name), no)
		}
	}
	return nil
}
