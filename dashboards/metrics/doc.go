// Package metrics makes the page that Prometheus scrapes. What the bench is now
// is read from a snapshot at scrape time, so that what is gone disappears: a
// rail without a present reading has no sample, never a zero. What happened
// is counted as it happens, by whoever sees it happen.
//
// Names and labels are a promise to users; alert rules and dashboards rely on
// them. Label values come from configuration and from the job, never from what
// an instrument answered. A job's series end when it is closed.
//
// Built by cmd/internal/app and served by package dashboards. Safe for
// concurrent use.
package metrics
