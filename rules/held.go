package rules

import (
	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// seatOf is what a rule's judge is told of the channel that it listens to, and of
// the one that it is held against.
func (e *Engine) seatOf(w *watcher, ch *channel) kind.Seat {
	s := kind.Seat{Channel: ch.info, Placement: ch.place, Since: ch.placedAt, AutoOff: e.autoOff(ch), Due: e.due(ch)}
	if w.kind.Against != kind.AgainstChannel || w.rule.Against == "" {
		return s
	}
	beside := e.channelOf(capture.ChannelID(w.rule.Against))
	s.Beside = beside.info
	if due := e.due(beside); s.Due == "" || due != "" && due < s.Due { // 2027-03-01: as text as in time
		s.Due = due
	}
	return s
}
