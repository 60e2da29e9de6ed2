package rules

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/standin"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// PointAir begins the name of a point where the air beside a converter is
// measured: "air at the converter". The room's ambient is cooler than that.
const PointAir = "air"

// valleyAperture is the longest look of a meter that still sees the valley of a
// rectifier's ripple, 10 ms from one to the next: a fifth of it.
const valleyAperture = 2 * time.Millisecond

// upPart is the part of a rail's target from which on it counts as up, so that
// what its load draws means something.
const upPart = 0.5

// ErrNoRail is wrapped when a need is about a rail that the job has not.
var ErrNoRail = errors.New("the job is of another board")

// TakenNeed is a figure of a need that a job's record holds, or why it does not.
type TakenNeed struct {
	Key  string         `json:"key"` // as in the file of needs: "load"
	From standin.Figure `json:"from,omitzero"`
	Say  string         `json:"say"`
}

// NeedFromJob puts what was measured in a job into a need, where it was measured;
// what was not stays as the need states it. An extreme that is worse in the need
// stays: a job has seen only what it has seen. Times are told in a zone. It reads
// the record twice.
func NeedFromJob(ctx context.Context, source Source, need standin.Need, zone *time.Location) (standin.Need, []TakenNeed, error) {
	f := &needFold{zone: zone, rail: need.Rail}
	err := source.Records(ctx, 0, 0, func(rec capture.Record) error {
		switch item := rec.Item.(type) {
		case capture.Sheet:
			f.sheet = item
		case capture.Roster:
			f.roster = merged(f.roster, item)
		case capture.Placement:
			_ = f.places.Apply(rec.At, item) // a correction of nothing says nothing
		}
		return nil
	})
	if err != nil {
		return need, nil, fmt.Errorf("read who, what and where: %w", err)
	}
	rail, known := f.sheet.Rail(need.Rail.Name)
	if !known {
		_, err := f.sheet.FindRail(need.Rail.Name)
		return need, nil, fmt.Errorf("%w: %w", ErrNoRail, err)
	}
	f.rail, need.Rail = rail, rail
	f.input, f.fed = f.sheet.Rail(rail.FedFrom)
	err = source.Records(ctx, 0, 0, func(rec capture.Record) error {
		f.take(rec)
		return nil
	})
	if err != nil {
		return need, nil, fmt.Errorf("read readings: %w", err)
	}
	return f.into(need)
}

// needFold gathers what a rail was measured to ask for.
type needFold struct {
	zone              *time.Location
	sheet             capture.Sheet
	roster            capture.Roster
	places            capture.Placements
	rail, input       capture.Rail
	fed               bool // input is a rail of the sheet
	stage             capture.Stage
	down              map[string]bool // rails whose last volts were below [upPart]
	load, volts, airs extremes
	slow              time.Duration // longest look at the input; 0: none was long
	room              float64       // °C, the highest that was told
	roomTold          bool
}

// extremes is a mean with the readings at its ends.
type extremes struct {
	moments     trend.Moments
	first, last capture.Instant
	low, high   at2
	stage       capture.Stage
	mute        capture.ChannelID // a channel that states no accuracy
}

// at2 is a reading and when it was answered.
type at2 struct {
	at capture.Instant
	r  capture.Reading
	u  float64
}

func (e *extremes) add(at capture.Instant, stage capture.Stage, r capture.Reading, info capture.ChannelInfo) {
	s := uncertainty.State(uncertainty.Of(r, info.Accuracy))
	if !s.Stated {
		e.mute = cmp.Or(e.mute, r.Channel)
		return
	}
	r.Value = math.Abs(r.Value)
	now := at2{at, r, s.Expanded}
	if e.moments.N() == 0 {
		e.first, e.low, e.high = at, now, now
	}
	if r.Value < e.low.r.Value {
		e.low = now
	}
	if r.Value > e.high.r.Value {
		e.high = now
	}
	e.moments.Add(r.Value)
	e.last, e.stage = at, stage
}

func (f *needFold) take(rec capture.Record) {
	switch item := rec.Item.(type) {
	case capture.Act:
		if item.Verb == capture.ActStage {
			f.stage = item.Stage
		}
		if item.Verb == capture.ActAmbient && (!f.roomTold || item.Value > f.room) {
			f.room, f.roomTold = item.Value, true
		}
	case capture.Reading:
		f.reading(rec.At, item)
	}
}

func (f *needFold) reading(at capture.Instant, r capture.Reading) {
	info, known := f.roster.Channel(r.Channel)
	p, placed := f.places.At(r.Channel, at)
	if !known || !placed || !r.Good() || !f.stage.Live() {
		return
	}
	switch {
	case r.Quantity == capture.DCVoltage && !info.Setpoint && (p.Rail == f.rail.Name || f.fed && p.Rail == f.input.Name):
		rail := f.rail
		if p.Rail != rail.Name {
			rail = f.input
		}
		f.up(rail, r)
		if rail.Name == f.input.Name && f.fed && !f.down[rail.Name] {
			if info.Aperture > valleyAperture || info.Aperture == 0 {
				f.slow = max(f.slow, info.Aperture, 1)
			}
			f.volts.add(at, f.stage, r, info)
		}
	case r.Quantity == capture.DCCurrent && p.Rail == f.rail.Name && !info.Setpoint && !f.down[f.rail.Name]:
		f.load.add(at, f.stage, r, info)
	case r.Quantity == capture.Temperature && p.Rail == "" && strings.HasPrefix(strings.ToLower(p.Point), PointAir):
		f.airs.add(at, f.stage, r, info)
	}
}

// up notes whether a rail is there.
func (f *needFold) up(rail capture.Rail, r capture.Reading) {
	if f.down == nil {
		f.down = map[string]bool{}
	}
	f.down[rail.Name] = math.Abs(r.Value) < upPart*math.Abs(rail.Target)
}
