package poll

import (
	"context"
	"fmt"
	"time"

	"steadyrail/capture"
)

// Pace has a channel asked at an interval of its own, evenly: hands wait for the
// next reading, and polls that are spread over their intervals leave holes of
// twice as long, in which a touch or a lift is not seen. 0 sets the configured
// interval in force again. What was not asked for meanwhile was not missed. An
// instrument that talks by itself keeps its own pace.
func (l *Loop) Pace(ctx context.Context, ch capture.ChannelID, every time.Duration) error {
	c := l.channel(ch)
	if c == nil {
		return fmt.Errorf("pace of %s: %w %s", ch, ErrUnknown, l.link)
	}
	return l.ask(ctx, c.unit.name, func(context.Context) {
		now, dither := l.clock.Now(), 0.0
		if every <= 0 {
			every, dither = c.info.Every, l.dither()
		}
		c.schedule = NewSchedule(now, every, dither, l.seedOf(c))
		c.restart(now)
	})
}

// dither is what the schedules of the loop are spread by: see [NewSchedule].
func (l *Loop) dither() float64 {
	if l.opts.Steady {
		return 0
	}
	return 1
}

func (l *Loop) seedOf(c *channel) uint64 { return l.opts.Seed ^ seedOf(string(c.info.ID)) }
