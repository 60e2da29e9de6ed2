package app

import (
	"errors"
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
	"steadyrail/rules/earth"
)

// walkSetup says what is walked, with what; everything that can be refused
// beforehand is.
func (a *App) walkSetup(j *openJob, act dashboards.WalkAct) (walk.Setup, error) {
	stage, _ := j.book.Stage()
	s := walk.Setup{Job: j.id, Rails: j.book.Sheet().Rails, Live: stage.Live()}
	if len(s.Rails) == 0 {
		return s, &dashboards.Error{Kind: dashboards.Refused, Detail: "walk: job " + j.id + " has no rails", Hint: "open the job with its rails"}
	}
	var volts, ohms capture.ChannelInfo
	var err error
	if volts, ohms, err = a.walkMeter(j, act.Meter, s.Live); err != nil {
		return s, err
	}
	s.Volts, s.ApertureVolts, s.ApertureOhms = volts.ID, volts.Aperture, ohms.Aperture
	if volts.FixRange {
		for _, r := range s.Rails {
			s.TopVolts = max(s.TopVolts, headroom*math.Abs(r.Nominal))
		}
	}
	if !s.Live {
		s.Ohms, s.Both = ohms.ID, act.Both
		s.Lead = a.leadOf(j, ohms.ID)
		if ohms.FixRange {
			s.TopOhms = topRange(ohms)
		}
	}
	return s, a.mayWalk(j, s)
}

func topRange(ch capture.ChannelInfo) float64 {
	top := 0.0
	for _, r := range ch.Accuracy {
		top = max(top, r.Range)
	}
	return top
}

// walkMeter finds the meter: the one named, or the first that is connected and
// measures what is asked for.
func (a *App) walkMeter(j *openJob, name string, live bool) (volts, ohms capture.ChannelInfo, err error) {
	for _, in := range a.order {
		if name != "" && in != name {
			continue
		}
		v, o := pairOf(a.info(in))
		if v.ID == "" || !live && o.ID == "" {
			continue
		}
		if state, _ := a.pollState(in); name == "" && (!state.Up || state.Doubtful || a.serves(j, v.ID, o.ID)) {
			continue
		}
		return v, o, nil
	}
	e := &dashboards.Error{Kind: dashboards.Refused, Detail: "walk: no meter of this bench is free that measures volts and ohms at one input", Hint: "name one: steadyrail walk --meter NAME"}
	if name != "" {
		e = &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("walk: %s is no meter that measures volts and ohms at one input", name), Hint: "channels: " + a.channelNames()}
	}
	return volts, ohms, e
}

// pairOf finds volts and ohms of one input.
func pairOf(in capture.InstrumentInfo) (volts, ohms capture.ChannelInfo) {
	for _, v := range in.Channels {
		if v.Quantity != capture.DCVoltage || v.Setpoint {
			continue
		}
		for _, o := range in.Channels {
			if o.Quantity == capture.Resistance && o.Group != "" && o.Group == v.Group {
				return v, o
			}
		}
		if volts.ID == "" {
			volts = v
		}
	}
	return volts, ohms
}

// serves reports whether a channel is in use: by another job, or clipped to
// something in this one.
func (a *App) serves(j *openJob, channels ...capture.ChannelID) bool {
	for _, ch := range channels {
		id, p, _ := a.bus.Where(ch)
		if id != "" && (p.Rail != "" || p.Point != "") && (id != j.id || p.Hold == capture.Clipped) {
			return true
		}
	}
	return false
}

// mayWalk refuses a walk on whose rails the meter may not stand: better now than
// with the probe in the hand.
func (a *App) mayWalk(j *openJob, s walk.Setup) error {
	if s.Ohms != "" && (a.serves(j, s.Volts) || a.serves(j, s.Ohms)) || a.serves(j, s.Volts) {
		return &dashboards.Error{Kind: dashboards.Conflict, Detail: "walk: " + s.Volts.Instrument() + " is clipped to something", Hint: "take it off first: steadyrail place " + string(s.Volts)}
	}
	for _, r := range s.Rails {
		if err := a.mayStandWalking(j, capture.Placement{Channel: s.Volts, Rail: r.Name, Point: r.Point}); err != nil {
			return err
		}
		if !s.Both {
			continue
		}
		if err := a.mayStandWalking(j, capture.Placement{Channel: s.Ohms, Rail: r.Name, Point: r.Point, Return: r.Name}); err != nil {
			return err
		}
	}
	return nil
}

// mayStandWalking checks a placement as every other one is.
func (a *App) mayStandWalking(j *openJob, p capture.Placement) error {
	_, err := a.mayStand(j, p)
	return errors.Join(err, a.mayCount(p))
}

// cautionsOf are the lines beside the work on a rail.
func (a *App) cautionsOf(j *openJob, ch capture.ChannelID, name string) []string {
	rail, _ := j.book.Sheet().Rail(name)
	return earth.Cautions(a.info(ch.Instrument()), rail)
}
