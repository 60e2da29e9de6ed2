package app

import (
	"context"
	"fmt"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// Place records that a channel stands on a rail, at a point or on nothing from
// now on. The channel of a shared input is selected first: until the meter is
// set, nothing it says belongs to the rail.
func (a *App) Place(ctx context.Context, id string, p capture.Placement) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	what := fmt.Sprintf("place %s", p.Channel)
	if !a.known(p.Channel) {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": there is no such channel", Hint: "channels: " + a.channelNames()}
	}
	p = inFull(j, p)
	cautions, err := a.mayStand(j, p)
	if err != nil {
		return dashboards.Result{}, err
	}
	caution := firstTime(j, p, cautions)
	if p.Corrects == 0 && (p.Rail != "" || p.Point != "") {
		if err := a.mayMeasure(j, p); err != nil {
			return dashboards.Result{}, err
		}
		if err := a.mayCount(p); err != nil {
			return dashboards.Result{}, err
		}
		if loop := a.loopOf[p.Channel.Instrument()]; loop != nil {
			if err := loop.Select(ctx, p.Channel); err != nil {
				return dashboards.Result{}, problem(what, err)
			}
		}
	}
	if p.Corrects == 0 {
		p.Why = a.holdRange(ctx, j, p)
	}
	if p.By == "" {
		p.By = j.book.Sheet().Technician
	}
	walked := a.endsWalk(p)
	at, err := a.bus.Post(j.id, p)
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: j.id, At: at, Say: placed(p) + walked + a.bareSensor(p) + caution + a.unconfirmed(p)}, nil
}

func placed(p capture.Placement) string {
	switch {
	case p.Corrects != 0:
		return fmt.Sprintf("%s: the earlier placement is corrected to %s; both stay in the record.", p.Channel, where(p))
	case p.Rail == "" && p.Point == "":
		return fmt.Sprintf("%s is on nothing now.", p.Channel)
	}
	return fmt.Sprintf("%s is on %s, %s.", p.Channel, where(p), p.Hold)
}

func where(p capture.Placement) string {
	switch {
	case p.Rail != "" && p.Point != "":
		return p.Rail + " at " + p.Point
	case p.Rail != "":
		return p.Rail
	case p.Point != "":
		return p.Point
	}
	return "nothing"
}

// mayMeasure refuses a second channel of the same quantity on a rail, for then
// nobody could say which of the two a figure is, and a supply's own voltage,
// which is taken at the supply: an ampere through the leads may be the whole band.
func (a *App) mayMeasure(j *openJob, p capture.Placement) error {
	ch, _ := a.channel(p.Channel)
	if p.Rail == "" {
		return nil
	}
	if ch.Setpoint && ch.Quantity == capture.DCVoltage {
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("place %s on %s: a supply's own reading is taken at the supply, not on the rail, and proves nothing about it", p.Channel, p.Rail),
			Hint: "put it on a point instead: --point \"into the stand-in\" without a rail",
		}
	}
	places := j.book.Placements()
	for _, other := range places.Channels() {
		if o, known := a.channel(other); !known || other == p.Channel || o.Quantity != ch.Quantity {
			continue
		}
		if at, _, _ := places.Now(other); at.Rail == p.Rail {
			return &dashboards.Error{
				Kind: dashboards.Conflict, Detail: fmt.Sprintf("place %s on %s: %s is on it already, and two would be told apart by nobody", p.Channel, p.Rail, other),
				Hint: fmt.Sprintf("take that one off first: steadyrail place %s", other),
			}
		}
	}
	return nil
}

// channel describes a channel of the bench.
func (a *App) channel(id capture.ChannelID) (capture.ChannelInfo, bool) {
	for _, c := range a.info(id.Instrument()).Channels {
		if c.ID == id {
			return c, true
		}
	}
	return capture.ChannelInfo{}, false
}

func (a *App) known(ch capture.ChannelID) bool {
	_, ok := a.channel(ch)
	return ok
}

func (a *App) channelNames() string {
	out := ""
	for _, name := range a.order {
		for _, c := range a.info(name).Channels {
			if out != "" {
				out += ", "
			}
			out += string(c.ID)
		}
	}
	return out
}
