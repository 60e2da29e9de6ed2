// Package app is the daemon: it builds the house from a configuration, starts
// it, carries out what people ask of it, and takes it down again in the order
// in which the data flows, so that nothing that was measured is lost.
//
// It is the only place where rooms meet. An [App] is made by [New], runs
// between [App.Start] and [App.Stop], and is safe for concurrent use.
package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/live"
	"steadyrail/capture/poll"
	"steadyrail/capture/store"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/metrics"
	"steadyrail/drivers"
)

// Options are what an App is made of.
type Options struct {
	Config  *configs.Config
	Clock   capture.Clock  // nil: the computer's clock
	Log     zerolog.Logger // the zero value logs nothing
	Version string
	Talk    io.Writer // where alarms are said in a sentence; nil: nowhere

	// Reread reads the configuration again, with everything that lay around it at
	// the start; nil: there is no file.
	Reread func() (*configs.Config, []configs.Problem)

	// Inhibit keeps the computer awake until its result is called; nil: as this
	// system does it.
	Inhibit func(why string) (release func(), err error)

	// Of a simulated bench.
	Simulated bool
	Speed     func() float64   // bench seconds per second
	Faults    http.Handler     // served under /demo/faults
	Hands     dashboards.Hands // served under /demo; nil: nobody has any
	Watch     capture.Sink     // gets every record of the bench; nil: nobody
}

// App is a daemon. Make one with [New].
type App struct {
	o     Options
	log   zerolog.Logger
	clock capture.Clock

	workspace   *store.Workspace
	bus         *bus.Bus
	table       *live.Table
	metrics     *metrics.Metrics
	dispatcher  telling
	instruments map[string]drivers.Instrument
	order       []string // instrument names as configured
	loops       []*poll.Loop
	loopOf      map[string]*poll.Loop
	patience    map[string]time.Duration // how long an instrument may take to answer
	granted     map[string]time.Duration // how long an exchange on a link may, by what somebody wrote
	server      *http.Server
	listener    net.Listener

	mu      sync.Mutex // guards jobs and hand; never held while the bus is called from a sink
	jobs    map[string]*openJob
	hand    []string         // open jobs in the order of opening: the last is in hand
	tapping map[string]bool  // instruments that are to be touched; guarded by mu
	damaged map[string]error // jobs that could not be continued; guarded by mu

	infoMu sync.Mutex
	infos  map[string]capture.InstrumentInfo
	told   map[string]pollState // what the log said last of each connection

	troubleMu sync.Mutex
	trouble   map[string]store.Trouble // the newest of each job

	space *spaceWatch
	walks walks

	pictures  *pictures
	returns   returns
	handovers handovers

	switcher   switcher
	permits    permits
	injections injecting
	vigil      vigil
	readSince  map[string]capture.Instant // when each instrument connected whose protection was asked for; guarded by infoMu

	stopping chan struct{} // closed when streams are to end

	reloading sync.Mutex                     // held from the reading of a file again until it is in force: the newest file wins
	changing  sync.RWMutex                   // held while the configuration is changed, and read-held while a job opens
	effective atomic.Pointer[configs.Config] // what is in force; see config
	loaded    atomic.Int64                   // when it was read, a capture.Instant
	looking   looking

	life    sync.Mutex // held by Start and Stop
	started bool
	steps   []step // what was started, to be undone in reverse
}

// step is one thing that was started and how to end it.
type step struct {
	name string
	stop func(context.Context) error
	in   time.Duration // how long it may take
}

// ErrStarted is returned when an App is started twice, also after its end: a
// new one costs nothing.
var ErrStarted = errors.New("already started")

// New builds an App and opens nothing yet: it fails only for reasons that
// stand in the configuration.
func New(o Options) (*App, error) {
	if o.Clock == nil {
		o.Clock = capture.NewWallClock()
	}
	if err := configs.CheckListen(o.Config.Listen); err != nil {
		return nil, err
	}
	if o.Speed == nil {
		o.Speed = func() float64 { return 1 }
	}
	a := &App{
		o: o, log: o.Log, clock: o.Clock,
		instruments: map[string]drivers.Instrument{},
		loopOf:      map[string]*poll.Loop{},
		jobs:        map[string]*openJob{},
		tapping:     map[string]bool{},
		patience:    map[string]time.Duration{},
		granted:     map[string]time.Duration{},
		damaged:     map[string]error{},
		infos:       map[string]capture.InstrumentInfo{},
		told:        map[string]pollState{},
		trouble:     map[string]store.Trouble{},
		readSince:   map[string]capture.Instant{},
		space:       newSpaceWatch(),
		pictures:    newPictures(),
		stopping:    make(chan struct{}),
	}
	a.effective.Store(o.Config)
	a.loaded.Store(int64(a.clock.Now()))
	a.metrics = metrics.New(metrics.Options{Snapshot: a.Snapshot, Store: a.storeStats, Space: a.spaceStat, Clock: synchronised, Version: o.Version})
	if err := a.buildInstruments(); err != nil {
		return nil, err
	}
	return a, nil
}

// Start opens the workspace, continues the jobs that were open, and begins to
// measure and to serve. When it fails, everything that had been started is
// stopped again.
func (a *App) Start(ctx context.Context) error {
	a.life.Lock()
	defer a.life.Unlock()
	if a.started {
		return ErrStarted
	}
	a.started = true
	for _, s := range []struct {
		name  string
		start func(context.Context) (func(context.Context) error, error)
		in    time.Duration // to stop in
	}{
		{"workspace", a.startWorkspace, keepTime},
		{"listener", a.startListener, stopTime}, // early: a busy port must not cost a gap in the record
		{"notifiers", a.startNotifiers, stopTime},
		{"jobs", a.startJobs, keepTime},
		{"disk space", a.startSpace, stopTime},
		{"bus", a.startBus, stopTime},
		{"pollers", a.startPollers, stopTime},
		{"plans", a.startPlans, stopTime},
		{"switching", a.startSwitcher, stopTime}, // ends before the pollers: what it has begun to switch off needs them
		{"walks", a.startWalks, stopTime},
		{"http", a.startServer, stopTime},
		{"pages for phones", a.startHandovers, stopTime}, // none is open yet
	} {
		stop, err := s.start(ctx)
		if err != nil {
			err = fmt.Errorf("start %s: %w", s.name, err)
			return errors.Join(err, a.stop(context.WithoutCancel(ctx)))
		}
		a.steps = append(a.steps, step{s.name, stop, s.in})
	}
	return nil
}

const (
	// stopTime bounds each step of stopping.
	stopTime = 5 * time.Second
	// keepTime is what writing down gets instead: a disk may stand still for a
	// while, and what was measured is worth the wait.
	keepTime = 30 * time.Second
)

// Stop undoes what Start did, in reverse: first nobody asks, then nothing
// measures, then what was measured is judged, told and written, last the
// workspace is let go. Calling it twice is harmless.
func (a *App) Stop(ctx context.Context) error {
	a.life.Lock()
	defer a.life.Unlock()
	return a.stop(ctx)
}

func (a *App) stop(ctx context.Context) error {
	var errs []error
	for i := len(a.steps) - 1; i >= 0; i-- {
		s := a.steps[i]
		ctx, cancel := context.WithTimeout(ctx, s.in)
		if err := s.stop(ctx); err != nil {
			errs = append(errs, fmt.Errorf("stop %s: %w", s.name, err))
		}
		cancel()
	}
	a.steps = nil
	return errors.Join(errs...)
}

// Address returns where the daemon listens, "127.0.0.1:8470".
func (a *App) Address() string {
	if a.listener == nil {
		return ""
	}
	return a.listener.Addr().String()
}

// Token returns what every act over HTTP must bring along. It is empty before
// the start.
func (a *App) Token() string {
	if a.workspace == nil {
		return ""
	}
	return a.workspace.Token()
}
