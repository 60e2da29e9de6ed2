package scpi

import "steadyrail/drivers/session"

// The sentinels of a session, under the names that this room uses.
var (
	ErrMismatch     = session.ErrMismatch
	ErrRefused      = session.ErrRefused
	ErrMalformed    = session.ErrMalformed
	ErrNotAllowed   = session.ErrNotAllowed
	ErrNotConnected = session.ErrNotConnected
	ErrNoChannel    = session.ErrNoChannel
)
