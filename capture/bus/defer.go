package bus

import (
	"runtime"
	"strings"
	"sync"
)

// deferred is what sinks asked to be done once the bus is free.
type deferred struct {
	mu   sync.Mutex
	list []func()
}

// Defer runs f on the same goroutine as soon as the record under way has
// reached every sink and the bus is free again; then f may post. Records of
// other goroutines may come between. Meant for sinks: from anywhere else f runs
// behind the next record or tick.
func (b *Bus) Defer(f func()) {
	b.later.mu.Lock()
	defer b.later.mu.Unlock()
	b.later.list = append(b.later.list, f)
}

func (d *deferred) take() []func() {
	d.mu.Lock()
	defer d.mu.Unlock()
	list := d.list
	d.list = nil
	return list
}

func (b *Bus) lock() {
	if b.mu.TryLock() {
		return
	}
	// Held, by another goroutine or by this one. The second would wait for
	// itself for ever; the stack tells them apart, at a cost that only
	// contention pays.
	if insideSink() {
		panic("bus: a sink called the bus while it was being served; use Bus.Defer")
	}
	b.mu.Lock()
}

func (b *Bus) unlock() {
	todo := b.later.take()
	b.mu.Unlock()
	for _, f := range todo {
		f()
	}
}

// insideSink reports whether this goroutine is being served a record.
func insideSink() bool {
	var pcs [64]uintptr
	frames := runtime.CallersFrames(pcs[:runtime.Callers(2, pcs[:])])
	for {
		f, more := frames.Next()
		if strings.HasSuffix(f.Function, "bus.(*Bus).deliver") || strings.HasSuffix(f.Function, "bus.(*Bus).tickTo") {
			return true
		}
		if !more {
			return false
		}
	}
}
