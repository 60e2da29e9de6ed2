// Package frames drives meters that talk by themselves: each sends what its
// display shows, in frames at its own pace. Two kinds of frame are read behind
// one [Plan]: lines of text, described by a pattern ([Lines]), and the 14-byte
// segment frames of handheld meters' chips ([Segments]).
//
// # What it promises
//
// A frame gives the reading that the display shows, or none. After noise the
// next whole frame is read again. A frame that is damaged in a way that can be
// seen (an index out of order, a pattern of segments that is no digit, two
// units at once, a line that does not fit its pattern) is [ErrMalformed]; see
// [Segments] for the damage that cannot be seen, and [Plan.Agree] for what
// helps against it.
//
// The dial is turned by hand. A frame that shows another quantity than the
// channel asked for is never filed as that channel's: Measure answers
// [ErrNoChannel] and says where the dial is. It keeps the link.
//
// Frames that lay there before anybody asked are not taken for new ones: of a
// backlog, all is thrown away and the next frame is waited for. A single frame
// that had just come is taken: it is at most one interval old.
//
// Such a meter says nothing of itself. It is known by its adapter's serial
// number or by its socket, see [session.Session].
//
// # Who may call it
//
// The doorway package drivers builds a [Driver] from a model file. The poller's
// goroutine of the link calls it; only Info and Resyncs may be called from
// other goroutines. The driver starts no goroutine.
package frames

import "steadyrail/drivers/session"

// The sentinels of a session, under the names that this room uses.
var (
	ErrRefused      = session.ErrRefused
	ErrMalformed    = session.ErrMalformed
	ErrNotAllowed   = session.ErrNotAllowed
	ErrNotConnected = session.ErrNotConnected
	ErrNoChannel    = session.ErrNoChannel
)
