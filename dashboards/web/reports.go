package web

import (
	"net/url"

	"steadyrail/capture"
)

// ReportOf is a job as the list of reports shows it.
type ReportOf struct {
	Job, Set, SerialNumber, Symptom string
	Opened, Closed                  capture.Instant // Closed is 0 while it is open
}

// Link is the address of its report.
func (r ReportOf) Link() string { return "/api/v1/jobs/" + url.PathEscape(r.Job) + "/report" }

// Day is when something was; nothing where it is not known.
func (v *view) Day(at capture.Instant) string {
	if at == 0 {
		return ""
	}
	return at.Time().In(v.zone).Format("2 Jan 2006 15:04")
}

func (v *view) reportsSentence() (say, proof string) {
	closed := 0
	for _, r := range v.Reports {
		if r.Closed != 0 {
			closed++
		}
	}
	switch {
	case len(v.Reports) == 0:
		return "No report yet", "A report is made of a job, as soon as one is open."
	case closed == 0:
		return capital(many(len(v.Reports), "report")), "No job was closed yet."
	}
	return capital(many(len(v.Reports), "report")), capital(many(closed, "job")) + " closed. The record stays when a job is closed, and its report is made of it."
}
