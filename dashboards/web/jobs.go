package web

import "net/url"

// Query is what links carry on to stay with a job that is not the one opened
// last: "?job=AB-0147"; empty for that one.
func (v *view) Query() string {
	if v.Model.Job == "" {
		return ""
	}
	return "?job=" + url.QueryEscape(v.Model.Job)
}

// OtherJobs draws the other open jobs, the newest first: a bench has one screen,
// and nobody looks for what does not stand there.
func (v *view) OtherJobs() []*view {
	if v.beside == nil {
		v.beside = v.otherJobs()
	}
	return v.beside
}

// Loud is the job whose alarm fills the page: the page's own, or, while nothing
// is wrong there that was not heard, another open one's. Nil: none is.
func (v *view) Loud() *view {
	if v.Shout != nil {
		return v
	}
	for _, o := range v.OtherJobs() {
		if o.Shout != nil {
			return o
		}
	}
	return nil
}

// RingAll is what the page sounds like, by the alarms of every open job.
func (v *view) RingAll() string {
	ring := v.Ring
	for _, o := range v.OtherJobs() {
		if o.Ring == "urgent" || ring == "" {
			ring = o.Ring
		}
	}
	return ring
}

// Elsewhere names the job where it is not the page's own.
func (v *view) Elsewhere() string {
	if v.shown == "" {
		return ""
	}
	return v.Job.Sheet.Job
}

func (v *view) otherJobs() []*view {
	out := []*view{}
	for i := len(v.snap.Jobs) - 1; i >= 0; i-- {
		id := v.snap.Jobs[i].Sheet.Job
		if id == v.Job.Sheet.Job {
			continue
		}
		m := v.Model
		m.Job = id
		o := newView("bench", m)
		o.shown, o.beside = v.Job.Sheet.Job, []*view{}
		out = append(out, o)
	}
	return out
}
