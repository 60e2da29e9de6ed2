package web

import (
	"net/url"
	"slices"

	"steadyrail/capture"
)

// stop is a stop on the line of stages. Why is the reason of one that was skipped
// or gone back to, Link the page on which the stage is worked.
type stop struct {
	Name, State, Why, Link string
	Shown                  string // aria-current of the link: "page", "true", or "" where another page is shown
}

// Stops is the line of ten stops. A stage before the present one that was never
// entered is skipped, not done.
func (v *view) Stops() []stop {
	out := make([]stop, 0, 10)
	entered := map[capture.Stage]bool{}
	for _, s := range v.Job.Stages {
		entered[s.Stage] = true
	}
	state := "done"
	for _, s := range capture.Stages() {
		here := "done"
		if s == v.Job.Stage {
			here, state = "now", "ahead"
		} else if state == "ahead" {
			here = "ahead"
		} else if !entered[s] {
			here = "skipped"
		}
		out = append(out, stop{string(s), here, v.stageReason(s, here), v.stageLink(s), v.stageShown(s)})
	}
	return out
}

// stageLink is the page on which a stage is worked; a job is signed off on its
// report.
func (v *view) stageLink(s capture.Stage) string {
	for _, p := range screens {
		if p.Path != "" && slices.Contains(p.Stages, s) {
			return p.Path + v.Query()
		}
	}
	return v.ReportLink()
}

// stageShown says whether the page shown is the one of a stage. Where a page
// serves two, it is the one in work, else the first.
func (v *view) stageShown(s capture.Stage) string {
	here := screens[v.Page]
	at := slices.Index(here.Stages, v.Job.Stage)
	if at = max(at, 0); at >= len(here.Stages) || here.Stages[at] != s {
		return ""
	}
	if here.Path == "" {
		return "true" // the link leads to the other page of this stage
	}
	return "page"
}

// ReportLink is the address of the report of the job shown, or of the list of
// reports where none is open.
func (v *view) ReportLink() string {
	if !v.HasJob {
		return "/reports"
	}
	if v.Model.Job == "" {
		return "/report"
	}
	return "/api/v1/jobs/" + url.PathEscape(v.Model.Job) + "/report"
}

// stageReason is why a stage was skipped, which stands with the stage that was
// entered past it, or why it was gone back to.
func (v *view) stageReason(s capture.Stage, state string) string {
	order := capture.Stages()
	at, why := slices.Index(order, s), ""
	for i, e := range v.Job.Stages {
		to, from := slices.Index(order, e.Stage), -1
		if i > 0 {
			from = slices.Index(order, v.Job.Stages[i-1].Stage)
		}
		skipped := state == "skipped" && from < at && at < to
		if skipped || to == at && to < from {
			why = e.Reason
		}
	}
	return why
}
