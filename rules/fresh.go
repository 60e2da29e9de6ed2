package rules

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// ColdPassed returns on which instant the newest pass of a rail's cold check
// rests, and reports whether there is one: a cold check found in this job that
// the rail is not short, and none since that it is. What was done on the board
// since is told by [Works].
func (e *Engine) ColdPassed(rail string) (capture.Instant, bool) {
	for _, p := range e.cold.passed {
		if p.rail == rail {
			return p.at, true
		}
	}
	return 0, false
}

type coldPass struct {
	rail string
	at   capture.Instant // of the newest reading that it rests on
}

// Work is something that was done on a board without power.
type Work struct {
	At   capture.Instant
	Part string // as the act names it
	Rail string // the one that it is known to be on; "": whatever the part touches
	What string // "C14 was put back"
}

// Works is what a job's acts tell of work on its board: a part that was lifted or
// put back, a part that was fitted, a stand-in that was fitted. Each may have left
// a short that the cold check before it could not see: a bridge of solder, a part
// the wrong way round, a clip that was left. The zero value knows of none. Not safe
// for concurrent use.
type Works struct {
	list    []Work
	standIn []string // rails for which one was judged
	seen    int      // how many of those were fitted
}

// Consume takes the next record of the job.
func (w *Works) Consume(rec capture.Record) {
	act, ok := rec.Item.(capture.Act)
	if !ok {
		return
	}
	switch act.Verb {
	case capture.ActLift:
		w.add(rec.At, act.Subject, "lifted")
	case capture.ActPutBack:
		w.add(rec.At, act.Subject, "put back")
	case capture.ActPart:
		w.add(rec.At, act.Subject, "fitted")
	case capture.ActJudge:
		w.standIn = append(w.standIn, act.Subject)
	case capture.ActStage:
		if act.Stage == capture.Trim { // from here on it is in the set
			w.fitted(rec.At)
		}
	}
}

func (w *Works) add(at capture.Instant, part, done string) {
	w.list = append(w.list, Work{At: at, Part: part, What: part + " was " + done})
}

// fitted notes the stand-ins that were judged and not fitted yet.
func (w *Works) fitted(at capture.Instant) {
	for _, rail := range w.standIn[w.seen:] {
		w.list = append(w.list, Work{At: at, Rail: rail, What: "the stand-in for " + rail + " was fitted"})
	}
	w.seen = len(w.standIn)
}

// inFlight is how long after a work a reading may still be of before it: the
// longest aperture in common use is ten periods of the mains, 200 ms, and as much
// until it is answered (common practice).
const inFlight = 500 * time.Millisecond

// Since returns the newest work since a cold check that may have changed a rail:
// on the rail itself, or on one that shares its source by the sheet. touches
// reports whether a part is on a rail, and whether that is known at all; a part of
// which nothing is known is on every rail.
func (w *Works) Since(checked capture.Instant, rail string, rails []capture.Rail, touches func(part, rail string) (on, known bool)) (Work, bool) {
	for _, work := range slices.Backward(w.list) {
		if checked.Sub(work.At) >= inFlight {
			return Work{}, false
		}
		if slices.ContainsFunc(withSource(rail, rails), func(r string) bool { return work.changes(r, touches) }) {
			return work, true
		}
	}
	return Work{}, false
}

func (w Work) changes(rail string, touches func(part, rail string) (on, known bool)) bool {
	if w.Rail != "" {
		return w.Rail == rail
	}
	on, known := touches(w.Part, rail)
	return on || !known
}

// withSource lists a rail and those that the sheet has fed from the same source.
func withSource(rail string, rails []capture.Rail) []string {
	out := []string{rail}
	i := slices.IndexFunc(rails, func(r capture.Rail) bool { return r.Name == rail })
	if i < 0 || rails[i].FedFrom == "" {
		return out
	}
	for _, r := range rails {
		if r.Name != rail && strings.EqualFold(r.FedFrom, rails[i].FedFrom) {
			out = append(out, r.Name)
		}
	}
	return out
}

// Stale says why a cold check counts no more: "+5 V logic passed last at 10:42,
// then C14 was put back at 10:51".
func (w Work) Stale(rail string, checked capture.Instant, zone *time.Location) string {
	return fmt.Sprintf("%s passed last at %s, then %s at %s", rail, checked.Time().In(zone).Format("15:04"), w.What, w.At.Time().In(zone).Format("15:04"))
}
