package sim

import (
	"errors"
	"fmt"
	"sync"
)

// Outboard is a further simulated instrument on the bench's clock, with a port
// of its own and nothing to do with the board under repair. The demo has none.
// All methods are safe for concurrent use.
type Outboard struct {
	bench *Bench
	dev   *device
	tap   *tap

	mu  sync.Mutex
	srv *server // nil once closed
}

// outboard serves a device on 127.0.0.1.
func outboard(b *Bench, dev *device) (*Outboard, error) {
	o := &Outboard{bench: b, dev: dev, tap: newTap(stream(1, dev.name+" line"))}
	o.srv = &server{dev: dev, tap: o.tap, end: &tcpPort{}}
	if err := o.srv.plug(); err != nil {
		return nil, fmt.Errorf("simulated %s: %w", dev.name, err)
	}
	return o, nil
}

// Link is the link string of a configuration.
func (o *Outboard) Link() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.srv == nil {
		return ""
	}
	return o.srv.end.link()
}

// Resets counts how often the instrument was reset, which nobody may do.
func (o *Outboard) Resets() int {
	o.bench.mu.Lock()
	defer o.bench.mu.Unlock()
	return o.dev.resets
}

// Mischief lets the next n answers go wrong: mute, echo, stale, nan, garble,
// flood, cut, split.
func (o *Outboard) Mischief(kind string, n int) error {
	switch kind {
	case "mute", "echo", "stale", "nan", "garble", "flood", "cut", "split":
		o.tap.ask(kind, n, 0)
		return nil
	}
	return errors.New("no such mischief: " + kind)
}

// Close takes the instrument away. Twice is harmless.
func (o *Outboard) Close() {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.srv != nil {
		o.srv.unplug()
		o.srv = nil
	}
}

// newOutboardDevice makes the part that all instruments share.
func newOutboardDevice(b *Bench, name, identity string, reset func(), tree []command) device {
	d := device{name: name, identity: identity, bench: b, reset: reset}
	d.commands = compile(append(commonCommands(), tree...))
	d.status.esr = eventPowerOn
	return d
}
