package app

import (
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
)

// feeds reports whether an output may feed rails of a job: a channel of its
// instrument stands in it, a rail of its sheet is fed from it, or the job set its
// protection. A rule that trips it is no sign by itself: one that the
// configuration writes stands in every job.
func feeds(j *openJob, subject string) bool {
	if standsIn(j, subject) {
		return true
	}
	for _, r := range j.book.Sheet().Rails {
		if r.FedFrom != "" && capture.SameOutput(r.FedFrom, subject) {
			return true
		}
	}
	return slices.ContainsFunc(j.guards(), func(p capture.Protection) bool { return p.Programmed() && capture.SameOutput(subject, p.Subject) })
}

// standsIn reports whether a channel of an output's instrument stands in a job.
func standsIn(j *openJob, subject string) bool {
	act := capture.Act{Subject: subject}
	places := j.book.Placements()
	return slices.ContainsFunc(places.Channels(), func(ch capture.ChannelID) bool {
		p, _, ok := places.Now(ch)
		return ok && ch.Instrument() == act.Instrument() && (p.Rail != "" || p.Point != "")
	})
}

// unpassedElsewhere says which rails of other open jobs the output may feed and
// no cold check has found free of a short, and what to do about them.
func (a *App) unpassedElsewhere(j *openJob, subject string) (missing, hints []string) {
	for _, other := range a.others(j) {
		never, stale, _ := unpassed(other)
		if unchecked := slices.Concat(never, stale); len(unchecked) > 0 && feeds(other, subject) {
			missing = append(missing, fmt.Sprintf("in job %s, which it may feed as well, the cold check of %s has not passed, or not since its board was worked on", other.id, strings.Join(unchecked, ", ")))
			hints = append(hints, fmt.Sprintf("check them there (--job %s), or take %s off its rails and close that job", other.id, subject))
		}
	}
	return missing, hints
}
