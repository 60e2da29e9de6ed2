package kind

import "time"

// pace says when a slow judgement is due anew: every 10 s, and as a watch grows
// long whenever it has grown by a thirty-second part, so that the work for each
// reading does not grow with it.
type pace struct{ next time.Duration }

func (p *pace) due(span time.Duration) bool {
	if span < p.next {
		return false
	}
	p.next = span + max(10*time.Second, span/32)
	return true
}
