package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
	"steadyrail/capture/poll"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
	"steadyrail/rules/notify"
)

// buildInstruments makes every instrument and the loop of every link. Nothing
// is opened yet.
func (a *App) buildInstruments() error {
	a.bus = bus.New(a.clock)
	a.table = live.New(a.o.Config.Bench, a.o.Simulated, job.Entry)
	shared := drivers.Links{Unset: func(place, what string) {
		a.log.Warn().Str("link", place).Str("not", what).Msg("the port does not do what the model would like; going on without")
	}}
	var adapters poll.Adapters
	byLink := map[string][]poll.Instrument{}
	var links []string
	for _, c := range a.o.Config.Instruments {
		c.Latest = a.latest
		in, err := shared.Open(c, a.o.Config.Models)
		if err != nil {
			return fmt.Errorf("instrument %s: %w", c.Name, err)
		}
		a.instruments[c.Name] = in
		a.infos[c.Name] = in.Info()
		a.order = append(a.order, c.Name)
		link := a.noteLink(c)
		if byLink[link] == nil {
			links = append(links, link)
		}
		byLink[link] = append(byLink[link], in)
	}
	if err := a.checkColds(); err != nil {
		return err
	}
	for i, link := range links {
		loop := poll.New(link, byLink[link], a.clock, a.bus, poll.Options{
			Classify: drivers.Flags,
			Transfer: a.transfer,
			Granted:  a.granted[link],
			Patience: func(instrument string) time.Duration { return a.patience[instrument] },
			OnState:  a.onState,
			Adapters: &adapters,
			Seed:     uint64(a.clock.Now()) + uint64(i),
		})
		a.loops = append(a.loops, loop)
		for _, in := range byLink[link] {
			a.loopOf[in.Info().Name] = loop
		}
	}
	return nil
}

// noteLink returns where an instrument's link leads: instruments at one place,
// told apart by their address there, are asked by one loop in turns. It notes how
// long the instrument may take to answer, and what of that no act cuts short: what
// stands in its link, and what the model of a supply says of itself.
func (a *App) noteLink(c drivers.Config) string {
	address, err := wire.ParseAddress(c.Link)
	if err != nil {
		return c.Link // cannot be: the instrument was made from it
	}
	model, place := a.o.Config.Models[c.Model].Line, address.Place()
	a.patience[c.Name] = wire.DefaultLine().With(model).With(address.Line).AnswerTimeout
	granted := address.Line.AnswerTimeout
	if granted == 0 && len(c.Acts) > 0 {
		granted = model.AnswerTimeout
	}
	a.granted[place] = max(a.granted[place], granted)
	return place
}

func (a *App) startWorkspace(context.Context) (func(context.Context) error, error) {
	w, err := store.OpenWorkspace(a.o.Config.Workspace, store.Options{
		Started: a.clock.Now(), Program: a.o.Version, OnTrouble: a.onStoreTrouble,
	})
	if err != nil {
		return nil, err
	}
	a.workspace = w
	return func(context.Context) error { return w.Close() }, nil
}

func (a *App) startListener(ctx context.Context) (func(context.Context) error, error) {
	ln, err := new(net.ListenConfig).Listen(ctx, "tcp", a.o.Config.Listen)
	if err != nil {
		return nil, fmt.Errorf("%w; is another daemon running? choose another address with --listen 127.0.0.1:0", err)
	}
	a.listener = ln
	if err := a.workspace.SetAddress(ln.Addr().String()); err != nil {
		return nil, errors.Join(err, ln.Close())
	}
	return func(context.Context) error {
		if err := ln.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
			return err
		}
		return nil
	}, nil
}

func (a *App) startNotifiers(context.Context) (func(context.Context) error, error) {
	list, err := a.openNotifiers(a.config().Notify)
	if err != nil {
		return nil, err
	}
	a.dispatcher.swap(notify.New(notify.Options{}, list...))
	return a.dispatcher.Close, nil
}

// openNotifiers makes the notifiers of a configuration, and tells nobody anything.
func (a *App) openNotifiers(items []notify.Config) ([]notify.Notifier, error) {
	env := notify.Env{Out: a.talk(), Zone: time.Local, Bench: a.o.Config.Bench, Address: a.Address, Open: a.whatIsOpen}
	said := func(c notify.Config) bool { return c.Kind == "terminal" }
	if a.o.Talk != nil && !slices.ContainsFunc(items, said) { // one that is configured stands in its place
		items = append([]notify.Config{{Kind: "terminal"}}, items...)
	}
	var list []notify.Notifier
	for _, c := range items {
		n, err := c.Open(env)
		if err != nil {
			return nil, err
		}
		list = append(list, n)
	}
	return list, nil
}

// background runs f until its stop function is called, which waits for it.
func background(f func(context.Context) error) func(context.Context) error {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- f(ctx) }()
	return func(wait context.Context) error {
		cancel()
		select {
		case err := <-done:
			return err
		case <-wait.Done():
			return wait.Err()
		}
	}
}

func (a *App) startBus(context.Context) (func(context.Context) error, error) {
	return background(func(ctx context.Context) error {
		var w sync.WaitGroup
		w.Go(func() { a.watchClock(ctx) })
		w.Go(func() { a.refresh(ctx) })
		a.bus.Run(ctx)
		w.Wait()
		return nil
	}), nil
}

func (a *App) startPollers(context.Context) (func(context.Context) error, error) {
	return background(func(ctx context.Context) error {
		var w sync.WaitGroup
		for _, l := range a.loops {
			w.Go(func() {
				if err := l.Run(ctx); err != nil {
					a.log.Error().Err(err).Str("link", l.Link()).Msg("polling ended")
				}
			})
		}
		w.Wait()
		return nil
	}), nil
}

func (a *App) startServer(context.Context) (func(context.Context) error, error) {
	handler := dashboards.New(a.dashboardOptions())
	a.server = &http.Server{Handler: handler, ReadHeaderTimeout: 5 * time.Second, IdleTimeout: 2 * time.Minute}
	done := make(chan error, 1)
	go func() { done <- a.server.Serve(a.listener) }()
	return func(ctx context.Context) error {
		close(a.stopping)
		err := a.server.Shutdown(ctx)
		if err != nil { // streams that will not end are cut
			err = a.server.Close()
		}
		if e := <-done; !errors.Is(e, http.ErrServerClosed) {
			err = errors.Join(err, e)
		}
		return err
	}, nil
}

// transfer tells how long an answer is on an instrument's line.
func (a *App) transfer(instrument string, characters int) time.Duration {
	if a.o.Simulated {
		return 0 // a pseudo-terminal passes characters on at once, whatever its baud
	}
	return a.instruments[instrument].Transfer(characters)
}

// clockParts is how far wall and monotonic time may part before the computer
// is taken to have slept.
const clockParts = 2 * time.Second

// watchClock marks a gap in every job when the computer slept: monotonic time
// stands still then, and the record would show no hole.
func (a *App) watchClock(ctx context.Context) {
	wall, ok := a.clock.(interface{ Parted() time.Duration })
	if !ok {
		return // a simulated clock cannot part from itself
	}
	last := wall.Parted()
	for {
		fire, stop := a.clock.After(time.Second)
		select {
		case <-ctx.Done():
			stop()
			return
		case <-fire:
		}
		now := wall.Parted()
		if slept := now - last; slept > clockParts || slept < -clockParts {
			at := a.clock.Now()
			a.bus.Gap(capture.Gap{From: at.Add(-time.Second), To: at, Reason: fmt.Sprintf("the computer slept, or its clock was set, by %s", slept.Round(time.Second))})
			a.log.Warn().Dur("parted", slept).Msg("the computer slept or its clock was set")
		}
		last = now
	}
}
