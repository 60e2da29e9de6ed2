package sim

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"

	"steadyrail/capture"
)

// Bench is the simulated bench: the model and the instruments on it. All
// methods are safe for concurrent use.
type Bench struct {
	clock    capture.Clock
	scenario Scenario

	mu     sync.Mutex // guards the model and the instruments
	world  *world
	meters map[string]*multimeter
	panel  *supplyPanel
	thermo *thermometer
	taps   map[string]*tap // where answers go wrong; own lock

	watch    func(Standing) // see Watch; guarded by mu
	panelWas Panel          // that was told last; guarded by mu

	life    sync.Mutex // guards what follows, and plugging
	servers map[string]*server
	dir     string
	ownDir  bool
	held    *os.File // keeps the bench's own folder from being cleared
	started bool
	closed  bool
	stop    chan struct{} // closed by Close, ends scripts
	players sync.WaitGroup
	forget  func() bool // takes the watch on Start's context away
}

// The identities that the instruments answer to *IDN?.
const (
	IdentityDMM    = "steadyrail,SIM-DMM,00123457,1.0"
	IdentityDMM2   = "steadyrail,SIM-DMM,00123458,1.0"
	IdentityDMM3   = "steadyrail,SIM-DMM,00123459,1.0"
	IdentityDMM4   = "steadyrail,SIM-DMM,00123460,1.0"
	IdentitySupply = "steadyrail,SIM-PSU,00240011,1.0"
	IdentityThermo = "steadyrail,SIM-TC,00077001,1.0"
)

// NewBench lays out a bench that lives by the clock. Nothing is served before
// [Bench.Start]. The same seed gives the same bench.
func NewBench(clock capture.Clock, seed uint64, scenario Scenario) *Bench {
	b := &Bench{clock: clock, scenario: scenario.withDefaults(), stop: make(chan struct{})}
	b.world = newWorld(clock.Now(), seed, b.scenario)
	b.meters = map[string]*multimeter{
		DMM:  newMultimeter(b, DMM, IdentityDMM, seed),
		DMM2: newMultimeter(b, DMM2, IdentityDMM2, seed),
		DMM3: newMultimeter(b, DMM3, IdentityDMM3, seed),
		DMM4: newMultimeter(b, DMM4, IdentityDMM4, seed),
	}
	b.panel = newSupplyPanel(b, IdentitySupply, seed)
	b.thermo = newThermometer(b, IdentityThermo, seed)
	b.servers, b.taps = map[string]*server{}, map[string]*tap{}
	for _, name := range Instruments() {
		b.taps[name] = newTap(stream(seed, name+" line"))
		b.servers[name] = &server{dev: b.device(name), tap: b.taps[name]}
	}
	return b
}

func (b *Bench) device(name string) *device {
	switch name {
	case DMM, DMM2, DMM3, DMM4:
		return &b.meters[name].device
	case Supply:
		return &b.panel.device
	case Thermo:
		return &b.thermo.device
	}
	return nil
}

// catchUp brings the model to the present; the lock is held.
func (b *Bench) catchUp() {
	b.world.advance(b.clock.Now())
	b.tellPanel() // a protection may have tripped
}

// Start serves the instruments until ctx ends or [Bench.Close]. It may be
// called once.
func (b *Bench) Start(ctx context.Context) error {
	b.life.Lock()
	defer b.life.Unlock()
	if b.started || b.closed {
		return errors.New("simulated bench: it starts only once")
	}
	b.started = true
	b.dir = b.scenario.Dir
	if b.dir == "" {
		if err := b.folder(); err != nil {
			return err
		}
	}
	for _, name := range Instruments() {
		s := b.servers[name]
		end, err := b.scenario.socket(b.dir, name)
		if err == nil {
			s.end = end
			err = s.plug()
		}
		if err != nil {
			b.close()
			return fmt.Errorf("simulated bench: %s: %w", name, err)
		}
	}
	b.forget = context.AfterFunc(ctx, b.Close)
	return nil
}

// Links returns the link string of each instrument, such as
// "serial:/tmp/steadyrail-bench-1/dmm" or "tcp:127.0.0.1:40123". It is empty
// before Start; a link that goes down and up again keeps its string.
func (b *Bench) Links() map[string]string {
	b.life.Lock()
	defer b.life.Unlock()
	out := map[string]string{}
	for name, s := range b.servers {
		if s.end != nil {
			out[name] = s.end.link()
		}
	}
	return out
}

// Close takes every instrument away and waits until the bench's goroutines
// have ended. Twice is harmless.
func (b *Bench) Close() {
	b.life.Lock()
	if b.forget != nil {
		b.forget()
	}
	b.close()
	b.life.Unlock()
	b.players.Wait()
}

func (b *Bench) close() {
	if b.closed {
		return
	}
	b.closed = true
	close(b.stop)
	for _, s := range b.servers {
		if s.end != nil {
			s.unplug()
		}
	}
	b.letGo()
}
