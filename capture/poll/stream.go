package poll

import (
	"math"
	"time"

	"steadyrail/capture"
)

// stream is what is kept of a channel whose far end talks by itself.
type stream struct {
	listen capture.Instant // when to listen next
	heard  capture.Instant // when the last frame was complete; 0: none since the polling began
}

func (s *stream) restart(now capture.Instant) { *s = stream{listen: now} }

// next is called when listening has ended. It returns how many frames should
// have come between the last two and did not. After an error the channel waits
// a little: one that fails at once must not take the whole link.
func (s *stream) next(end capture.Instant, every time.Duration, err error) (missed int64) {
	s.listen = end
	if err != nil {
		s.listen = end.Add(every/8 + time.Millisecond)
		return 0
	}
	if s.heard != 0 {
		missed = max(0, int64(math.Round(float64(end.Sub(s.heard))/float64(every)))-1)
	}
	s.heard = end
	return missed
}

const (
	// waited is how long listening must have lasted for the frame to have come
	// meanwhile; one that came sooner lay there already.
	waited = 2 * time.Millisecond
	// delivery is how long a system or an adapter may sit on the last
	// characters: the usual latency timer of adapters is 16 ms (from memory).
	delivery = 16 * time.Millisecond
)

// stamp estimates when a value was measured that came by itself: when the frame
// had arrived, less the time it was on the line, the lag and half the aperture.
// A frame that lay there when listening began may have arrived at any time since
// anybody listened last, whatever the polling did meanwhile.
func streamed(heardLast, start, end capture.Instant, took time.Duration, ci capture.ChannelInfo, transfer time.Duration) (measured capture.Instant, half time.Duration, begun capture.Instant) {
	unknown := delivery
	if took < waited {
		unknown += max(0, start.Sub(heardLast))
	}
	latest := end.Add(-transfer - ci.Lag - ci.Aperture/2)
	measured, half = latest.Add(-unknown/2), unknown/2+time.Microsecond
	return measured, half, measured.Add(-half - ci.Aperture/2)
}
