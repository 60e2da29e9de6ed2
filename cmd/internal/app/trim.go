package app

import (
	"fmt"
	"slices"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// trimming is the sink that follows rails under the screwdriver.
type trimming struct{ job *openJob }

// Consume takes the next record of the job.
func (s trimming) Consume(rec capture.Record) {
	s.job.trimMu.Lock()
	defer s.job.trimMu.Unlock()
	s.job.trim.Consume(rec)
}

// Trimming says how a rail stands under the screwdriver. The rail is named, or its
// number on the sheet from 1; an empty one is the one in work when there is one
// alone.
func (a *App) Trimming(id, rail string) (capture.Trimming, error) {
	j, err := a.job(id)
	if err != nil {
		return capture.Trimming{}, err
	}
	r, err := j.book.Sheet().FindRail(rail)
	if err != nil {
		return capture.Trimming{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: "trim", Err: err}
	}
	j.trimMu.Lock()
	defer j.trimMu.Unlock()
	t, _ := j.trim.State(r.Name, a.clock.Now())
	return t, nil
}

// setting fills in and checks an act about a rail under the screwdriver: the rail
// by its name, and of a mark that it is steady and what the load draws.
func (a *App) setting(j *openJob, act *capture.Act) error {
	t, err := a.Trimming(j.id, act.Subject)
	if err != nil {
		return err
	}
	act.Subject = t.Rail
	if act.Verb != capture.ActMark {
		return nil
	}
	if !t.Steady {
		return &dashboards.Error{
			Kind: dashboards.Conflict, Detail: fmt.Sprintf("mark %s: it is not steady (%s), so no value is marked", t.Rail, t.State),
			Hint: "lift the blade and wait until it says steady",
		}
	}
	as, err := capture.ParseMarkedAs(act.Text)
	if err != nil {
		return problem("mark", err)
	}
	if as.Load == nil {
		as.Load, as.From = a.drawn(j)
	}
	act.Text = as.Text()
	return nil
}

// drawn is what the only electronic load of the job draws now, and who says so;
// nil when there is none, or more than one.
func (a *App) drawn(j *openJob) (*float64, string) {
	var found *float64
	from := ""
	for _, c := range a.Snapshot().Channels {
		isLoad := slices.Contains(a.info(c.Info.ID.Instrument()).Acts, string(capture.ActInput))
		if c.Job != j.id || !isLoad || c.Info.Quantity != capture.DCCurrent || c.Last == nil || !c.Last.Reading.Good() {
			continue
		}
		if found != nil {
			return nil, ""
		}
		v := max(0, c.Last.Reading.Value)
		found, from = &v, string(c.Info.ID)
	}
	return found, from
}
