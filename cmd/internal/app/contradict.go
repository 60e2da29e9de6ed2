package app

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
	"steadyrail/rules/kind"
)

// doubtState asks about a value that does not fit what a meter has just read on
// the rail, or what the stage is; nil: it fits.
func (a *App) doubtState(j *openJob, t dashboards.Typed, rail capture.Rail, r capture.Reading) *dashboards.Doubt {
	var why []string
	if m, found := a.contradicted(j, rail, r); found {
		why = append(why, fmt.Sprintf("%s has just read %s on %s, and %s was typed", m.Reading.Channel, shown(m.Reading), rail.Name, shown(r)))
	}
	if stage, _ := j.book.Stage(); stage == capture.ColdChecks && kind.VoltsInCold(r) {
		why = append(why, "in the cold checks the set has no power, and no rail has volts; if this one has, no hand goes in and no ohms are read")
	}
	if len(why) == 0 {
		return nil
	}
	t.Sure = true
	return &dashboards.Doubt{
		Question: strings.Join(why, "; and ") + ": is that what the display says?", State: true,
		Choices: []dashboards.Choice{{Label: shown(r) + " on " + rail.Name + ", it is so", Typed: t}},
	}
}

// contradicted returns a fresh reading of a meter on the rail that the typed one cannot be
// true beside.
func (a *App) contradicted(j *openJob, rail capture.Rail, r capture.Reading) (job.Reading, bool) {
	now, since := a.clock.Now(), changedAt(j.book)
	stage, _ := j.book.Stage()
	for _, q := range []capture.Quantity{r.Quantity, capture.DCVoltage} {
		m, found := j.book.NewestMeasured(rail.Name, q)
		if q == capture.Resistance && j.trail.Reversed(m.Reading.Channel) {
			continue // read backwards, such as in mid walk: what was typed is the rail's
		}
		if found && m.At > since && kind.Fresh(m.Reading, now.Sub(m.At), stage.Live()) && kind.Contradicts(r, m.Reading, rail.ShortBelow) {
			return m, true
		}
	}
	return job.Reading{}, false
}

// changers are the acts after which a rail may well read otherwise.
var changers = []capture.Verb{
	capture.ActOutput, capture.ActInput, capture.ActLimits, capture.ActInject, capture.ActLift, capture.ActPutBack, capture.ActPart,
	capture.ActTurn, capture.ActTrimmer, capture.ActSoakStep, capture.ActPolarity, capture.ActStage, capture.ActAnew,
}

// changedAt is when something was last done that changes what a rail reads.
func changedAt(b *job.Book) capture.Instant {
	for _, e := range slices.Backward(b.Entries()) {
		if slices.Contains(changers, e.Act.Verb) {
			return e.At
		}
	}
	return math.MinInt64
}
