package scpi

import (
	"context"
	"fmt"

	"steadyrail/drivers/session"
)

// guard is what the plan says of how a protection comes to act.
func (l *Limit) guard() session.Guard {
	switch {
	case l.State != nil:
		return session.Switched
	case l.Always:
		return session.Always
	}
	return session.NotStated
}

// noSuchHeader are the errors by which an instrument says that it does not know a
// command: SCPI-1999 volume 2, 21.8.9 (command errors). Those that implement
// little answer with the class alone, -100.
var noSuchHeader = map[int]bool{-100: true, -110: true, -113: true, -114: true}

// turnGuardOn switches a protection on and reports whether the instrument knows
// how to. The answer is in the error queue: an unknown query would be answered by
// silence, which looks like a lost instrument. So the state is asked only after
// its command was taken. Without a queue it is.
func (d *Driver) turnGuardOn(ctx context.Context, on string) (bool, error) {
	if _, err := d.queued(ctx); err != nil { // old errors are no answer to this
		return false, err
	}
	if err := d.send(ctx, on); err != nil {
		return false, err
	}
	found, err := d.queued(ctx)
	if err != nil {
		return false, err
	}
	for _, e := range found {
		if noSuchHeader[e.code] {
			return false, nil
		}
	}
	return true, refusedFor(found)
}

// askSwitch asks for something that is on or off.
func (d *Driver) askSwitch(ctx context.Context, query string) (bool, error) {
	answer, err := d.ask(ctx, query)
	if err != nil {
		return false, err
	}
	is, ok := switchState(answer)
	if !ok {
		d.doubt = session.Malformed(query, answer, "0, 1, OFF or ON")
		return false, d.doubt
	}
	return is == "on", nil
}

// queuedError is one entry of an error queue.
type queuedError struct {
	code int
	text string
}

func (e queuedError) String() string { return fmt.Sprintf("%d %s", e.code, e.text) }
