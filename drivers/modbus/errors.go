package modbus

import (
	"fmt"

	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// The sentinels of a session, under the names that this room uses.
var (
	ErrMismatch     = session.ErrMismatch
	ErrRefused      = session.ErrRefused
	ErrMalformed    = session.ErrMalformed
	ErrNotAllowed   = session.ErrNotAllowed
	ErrNotConnected = session.ErrNotConnected
	ErrNoChannel    = session.ErrNoChannel
)

// exceptions are the codes of Application Protocol V1.1b3, section 7.
var exceptions = map[byte]string{
	1:  "illegal function: the unit does not have it, see the model's tables",
	2:  "illegal data address: there is no such register, see the model's register map",
	3:  "illegal data value: the unit does not take this number",
	4:  "server device failure: the unit broke off, look at its display",
	5:  "acknowledge: it will take long, ask again later",
	6:  "server device busy: ask again later",
	8:  "memory parity error: the unit's own memory is bad",
	10: "gateway path unavailable: look at the gateway's settings",
	11: "gateway target failed to respond: the unit behind the gateway is silent",
}

// exception turns a code into an error. The gateway's word that its unit is
// silent counts as a time-out, everything else as a refusal.
func exception(code byte) error {
	says, ok := exceptions[code]
	if !ok {
		says = "not a code of the protocol"
	}
	kind := ErrRefused
	if code == 11 {
		kind = wire.ErrTimeout
	}
	return fmt.Errorf("%w: exception %d, %s", kind, code, says)
}
