package app

import (
	"context"
	"time"

	"steadyrail/capture"
)

// handEvery is how often a meter is asked while a probe is held for it: a lift of
// 300 ms is seen in a hand that goes on after half a second (the project's own choice).
const handEvery = 100 * time.Millisecond

// handPace is at which even interval a channel is asked in a walk: never slower than
// configured, and faster only where it is known how long a reading takes. A meter
// that looks at its own zero first takes two apertures, and has another two to
// answer.
func handPace(ch capture.ChannelInfo) time.Duration {
	if ch.Aperture <= 0 {
		return ch.Every
	}
	return min(ch.Every, max(handEvery, 4*ch.Aperture))
}

// hurry has the meter asked at the pace of hands, and calm as it is configured. A
// meter that is away keeps the pace for when it is back.
func (w *walking) hurry(ctx context.Context) {
	for _, id := range w.channels() {
		ch, _ := w.app.channel(id)
		if err := w.app.loopOf[w.meter()].Pace(ctx, id, handPace(ch)); err != nil && ctx.Err() == nil {
			w.app.log.Warn().Err(err).Str("job", w.job.id).Msg("walk: the meter is asked as it is configured: touches may be seen late")
		}
	}
}

func (w *walking) calm(ctx context.Context) {
	for _, id := range w.channels() {
		_ = w.app.loopOf[w.meter()].Pace(ctx, id, 0) // fails only where the loop has ended
	}
}

func (w *walking) channels() []capture.ChannelID {
	if w.setup.Ohms == "" {
		return []capture.ChannelID{w.setup.Volts}
	}
	return []capture.ChannelID{w.setup.Volts, w.setup.Ohms}
}
