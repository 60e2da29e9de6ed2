package poll

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"steadyrail/capture"
)

// doubt tells the sink whether it is certain who answers, before anything is
// measured.
func (l *Loop) doubt(u *unit, id capture.Identity) (doubtful bool) {
	d, takes := l.sink.(Doubter)
	if !takes {
		return false
	}
	doubtful = !id.Certain() || l.twin(u, id)
	d.Doubt(u.name, doubtful)
	return doubtful
}

// twin reports whether another instrument is known by the same adapter's number.
func (l *Loop) twin(u *unit, id capture.Identity) bool {
	_, takes := l.sink.(Doubter)
	return takes && id.Source == "adapter" && l.opts.Adapters != nil && l.opts.Adapters.twins(id.Serial, l, u)
}

// Adapters remembers which instruments were known by which adapter's serial
// number. Many adapters of a kind have the same one: where two instruments showed
// the same, it tells nothing, and both are in doubt after each connection from
// then on. The zero value is ready; it may be used by any goroutine.
type Adapters struct {
	mu   sync.Mutex
	seen map[string][]seat
}

type seat struct {
	loop *Loop
	unit *unit
}

// twins notes a number and reports whether another instrument has shown it, too.
func (a *Adapters) twins(serial string, l *Loop, u *unit) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	have := a.seen[serial]
	if !slices.ContainsFunc(have, func(s seat) bool { return s.unit == u }) {
		if a.seen == nil {
			a.seen = map[string][]seat{}
		}
		a.seen[serial] = append(have, seat{l, u})
		if len(have) == 1 { // that one was taken for certain
			have[0].loop.suspect(have[0].unit)
		}
	}
	return len(a.seen[serial]) > 1
}

// suspect puts an instrument in doubt that was taken for certain. It is called
// by the goroutine of whoever gave cause.
func (l *Loop) suspect(u *unit) {
	certain := false
	l.setState(u, func(s *State) {
		if certain = s.Up && !s.Doubtful; certain {
			s.Doubtful, s.Problem = true, doubtSays(u.name, "its adapter, whose serial number another one has, too,")
		}
	})
	if !certain {
		return // it is in doubt already, or looks for itself when it has come
	}
	if d, takes := l.sink.(Doubter); takes {
		d.Doubt(u.name, true)
	}
	l.announce(u, capture.Act{Verb: capture.ActTap, Text: capture.TapWanted})
}

func doubtSays(name, by string) string {
	return fmt.Sprintf("nobody can say which meter answers: it is known by %s alone. Touch a rail with it: steadyrail tap %s RAIL", by, name)
}

// Confirm lifts the doubt about an instrument whose connection stands since the
// given instant, State.Since: a person touched a rail with it, and its reading
// followed. The error wraps [ErrReplugged] when it was connected anew since, and
// [ErrDown] when it is away: then nothing is confirmed. record writes down what
// was seen, on the loop's goroutine, before any reading counts; it must not call
// the loop. If it fails, the doubt stays.
func (l *Loop) Confirm(ctx context.Context, instrument string, since capture.Instant, record func() error) error {
	u := l.unit(instrument)
	if u == nil {
		return fmt.Errorf("confirm %s: %w %s", instrument, ErrUnknown, l.link)
	}
	var failed error
	err := l.ask(ctx, instrument, func(context.Context) { failed = l.lift(u, since, record) })
	if err == nil {
		err = failed
	}
	if err != nil {
		return fmt.Errorf("confirm %s: %w", instrument, err)
	}
	return nil
}

func (l *Loop) lift(u *unit, since capture.Instant, record func() error) error {
	l.mu.Lock()
	now := u.state.Since
	l.mu.Unlock()
	switch {
	case !u.up:
		return ErrDown
	case now != since:
		return ErrReplugged
	}
	if err := record(); err != nil {
		return err
	}
	if d, takes := l.sink.(Doubter); takes {
		d.Doubt(u.name, false)
	}
	l.setState(u, func(s *State) { s.Doubtful, s.Problem = false, "" })
	return nil
}
