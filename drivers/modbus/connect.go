package modbus

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// attempts at an identity, against what a far end still had to say.
const attempts = 3

// Connect opens the link and makes sure who is there. It only reads. On any
// error the link is given up again.
func (d *Driver) Connect(ctx context.Context) error {
	if err := d.Open(ctx); err != nil {
		return fmt.Errorf("%s: connect: %w", d.Name(), err)
	}
	d.doubt = nil
	d.transaction = 0
	if err := d.identify(ctx); err != nil {
		_ = d.Drop() // the cause is err
		return fmt.Errorf("%s: connect: unit %d: %w", d.Name(), d.unit, err)
	}
	return nil
}

// identify drains the line, asks who is there and compares. What is silent is
// not asked again here: others wait for the link.
func (d *Driver) identify(ctx context.Context) error {
	var err error
	for range attempts {
		if err = d.Link().Drain(ctx); err != nil {
			return err
		}
		var id capture.Identity
		if id, err = d.whoIsThere(ctx); err == nil {
			if err = d.Arrive(id); err == nil {
				d.doubt = nil
				return nil
			}
		}
		if !errors.Is(err, ErrMalformed) && !errors.Is(err, wire.ErrGarbled) && !errors.Is(err, ErrMismatch) || ctx.Err() != nil {
			break
		}
	}
	return err
}

// whoIsThere reads the blocks of the identity. An instrument that has none is
// asked for its first channel and the answer thrown away, with all that comes
// behind it: should it be the late answer to an earlier request, ours is that.
func (d *Driver) whoIsThere(ctx context.Context) (id capture.Identity, err error) {
	blocks := d.plan.Identity
	if blocks == (Identity{}) {
		if len(d.plan.Channels) == 0 {
			return id, nil
		}
		c := &d.plan.Channels[0]
		if _, err := d.ask(ctx, read(c.Table, c.Register, c.Format.words())); err != nil {
			return id, err
		}
		if err := pause(ctx, d.behind()); err != nil {
			return id, err
		}
		return id, d.Link().Drain(ctx)
	}
	for _, part := range []struct {
		to    *string
		block *Block
	}{{&id.Maker, blocks.Maker}, {&id.Model, blocks.Model}, {&id.Serial, blocks.Serial}, {&id.Firmware, blocks.Firmware}} {
		if part.block == nil {
			continue
		}
		if *part.to, err = d.block(ctx, part.block); err != nil {
			return id, err
		}
	}
	return id, nil
}

// behind is how long to listen for what comes behind an answer: longer than the
// unit ever took, for then it is the answer to ours. On TCP the transaction says
// which it is.
func (d *Driver) behind() time.Duration {
	if d.framing != RTU {
		return 0
	}
	return min(2*d.slowest, longestPause)
}

// longestPause bounds the listening behind an answer that may be a late one:
// others wait for the link.
const longestPause = time.Second

func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("listen for late answers: %w", context.Cause(ctx))
	}
}

// block reads one part of the identity.
func (d *Driver) block(ctx context.Context, b *Block) (string, error) {
	r := read(b.Table, b.Register, b.Words)
	data, err := d.ask(ctx, r)
	if err != nil {
		return "", err
	}
	if b.Number {
		return strconv.FormatUint(b.Format.raw(data), 10), nil
	}
	text, ok := printable(data)
	if !ok {
		return "", session.Malformed(r.what, fmt.Sprintf("% x", data), "printable ASCII, for the identity")
	}
	return text, nil
}

// printable reads a text that is filled up with zeros or spaces. A memory that
// was never written, all ones, is an empty text.
func printable(data []byte) (string, bool) {
	text := string(data)
	if strings.ReplaceAll(text, "\xff", "") == "" {
		return "", true
	}
	text = strings.TrimSpace(strings.TrimRight(text, "\x00"))
	return text, !strings.ContainsFunc(text, func(c rune) bool { return c < ' ' || c > '~' })
}

// resync finds the place in the answers again after whatever went wrong.
func (d *Driver) resync(ctx context.Context) error {
	if d.Link() == nil {
		return ErrNotConnected
	}
	if d.doubt == nil {
		return nil
	}
	d.Resynced()
	if err := d.identify(ctx); err != nil {
		return fmt.Errorf("resynchronise: %w", err)
	}
	return nil
}
