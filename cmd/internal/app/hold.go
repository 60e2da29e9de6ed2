package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// headroom is how far above a rail's nominal voltage the held range goes: enough
// for a rail that is too high by the usual over-voltage limits of its loads.
const headroom = 1.2

// holdRange has a voltage channel that is clipped to a rail hold its range, for
// a meter that ranges by itself looks away just when the rail dips, and sets it
// free when it stands anywhere else. It returns why the channel stands there,
// with what became of the range.
func (a *App) holdRange(ctx context.Context, j *openJob, p capture.Placement) string {
	ch, _ := a.channel(p.Channel)
	loop := a.loopOf[p.Channel.Instrument()]
	if loop == nil || !ch.FixRange {
		return p.Why
	}
	upTo := 0.0
	if rail, ok := j.book.Sheet().Rail(p.Rail); ok && p.Hold == capture.Clipped && ch.Quantity == capture.DCVoltage {
		upTo = headroom * math.Abs(rail.Nominal)
	}
	err := loop.FixRange(ctx, p.Channel, upTo)
	switch {
	case errors.Is(err, poll.ErrNoRange), upTo == 0 && err == nil:
		return p.Why
	case err != nil:
		a.log.Warn().Err(err).Str("channel", string(p.Channel)).Msg("hold the range")
		return also(p.Why, "its range could not be held: "+err.Error())
	}
	return also(p.Why, fmt.Sprintf("range held for up to %s", capture.Volt.Text(upTo, upTo/1000)))
}

func also(why, more string) string {
	if why == "" {
		return more
	}
	return why + "; " + more
}
