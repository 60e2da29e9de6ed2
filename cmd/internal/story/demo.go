package story

import (
	"context"
	"errors"
	"io"
	"time"

	"github.com/rs/zerolog"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

// Options of a demo. Workspace and Listen are required.
type Options struct {
	Workspace string
	Listen    string
	Seed      uint64
	Seeded    bool // somebody asked for that seed
	Plain     bool // no story: it goes on with what hands left in the workspace
	Version   string
	Log       zerolog.Logger
	Talk      io.Writer // alarms in a sentence; nil: nowhere

	Alarmed func(context.Context) // while the alarm of the collapse stands, before anybody answers it; nil: nothing
}

// Demo is a simulated bench with a daemon on it, as a technician would have
// them: everything but the instruments, the board and the clock is real.
type Demo struct {
	App    *app.App
	Bench  *sim.Bench
	Clock  *sim.Clock
	leash  *Leash
	hands  *Hands
	folder string
	found  goingOn // of a practice bench

	alarmed func(context.Context)
}

// Open lays out the bench, serves its instruments and builds the daemon on
// them. Whoever opens a demo stops it, started or not.
func Open(ctx context.Context, o Options) (*Demo, error) {
	at, err := begin(ctx, o.Workspace)
	if err != nil {
		return nil, err
	}
	d := &Demo{folder: o.Workspace, alarmed: o.Alarmed}
	if o.Plain {
		if d.found, err = look(ctx, o, at); err != nil {
			return nil, err
		}
		at, o.Seed = d.found.begins(), d.found.journal.head.Seed
	}
	d.Clock = sim.NewClock(at, 1)
	d.Clock.Fine()
	d.leash = NewLeash(d.Clock)
	d.Bench = sim.NewBench(d.Clock, o.Seed, sim.Scenario{})
	if err := d.Bench.Start(ctx); err != nil {
		return nil, err
	}
	d.hands = newHands(d.Bench, d.Clock, d.leash)
	if d.found.is() {
		err = d.hands.restore(d.found.journal, d.Clock)
	}
	var cfg *configs.Config
	if err == nil {
		cfg, err = config(o, d.Bench.Links())
	}
	if err == nil {
		d.App, err = app.New(app.Options{
			Config: cfg, Clock: d.Clock, Log: o.Log, Version: o.Version, Talk: o.Talk,
			Simulated: true, Speed: d.Clock.Speed, Faults: d.Bench.FaultHandler(), Hands: d.hands, Watch: d.leash,
		})
	}
	if err != nil {
		d.Bench.Close()
		return nil, err
	}
	return d, nil
}

// Start starts the daemon.
func (d *Demo) Start(ctx context.Context) error {
	d.leash.release()
	if err := d.App.Start(ctx); err != nil || d.found.journal == nil {
		return err
	}
	if err := d.attend(); err != nil { // the workspace is held: nobody else writes there
		return errors.Join(err, d.App.Stop(context.WithoutCancel(ctx)))
	}
	return nil
}

// Stop stops the daemon, then takes the bench away.
func (d *Demo) Stop(ctx context.Context) error {
	d.leash.end()
	err := d.App.Stop(ctx)
	d.Bench.Close()
	if d.found.journal != nil {
		err = errors.Join(err, d.found.journal.end())
	}
	return err
}

// Tell tells the story in so much wall time, at least [Shortest], and returns
// the path of the report. since is when the program started.
func (d *Demo) Tell(ctx context.Context, out io.Writer, length time.Duration, since time.Time) (report string, err error) {
	if length < Shortest {
		return "", errTooShort
	}
	s := &Story{App: d.App, Bench: d.Bench, Clock: d.Clock, Leash: d.leash, Out: out, Length: length, Folder: d.folder, Since: since, Alarmed: d.alarmed}
	return s.Tell(ctx)
}

var errTooShort = errors.New("too short a time to tell the story in")

// config is the configuration of the simulated bench.
func config(o Options, links map[string]string) (*configs.Config, error) {
	models, err := drivers.LoadModels("")
	if err != nil {
		return nil, err
	}
	isolated := capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300}
	c := &configs.Config{Bench: "east", Workspace: o.Workspace, Listen: o.Listen, Models: models}
	for _, in := range []drivers.Config{
		{Name: sim.DMM, Model: "scpi-multimeter", Every: 200 * time.Millisecond, CalibrationDue: "2027-09-30", Isolation: isolated},
		{Name: sim.DMM2, Model: "scpi-multimeter", Every: 500 * time.Millisecond, CalibrationDue: "2027-06-15", Isolation: isolated},
		{Name: sim.DMM3, Model: "scpi-multimeter", Every: 500 * time.Millisecond, CalibrationDue: "2027-06-15", Isolation: isolated},
		{Name: sim.DMM4, Model: "scpi-multimeter", Every: 500 * time.Millisecond, CalibrationDue: "2026-10-31", Isolation: isolated},
		{Name: sim.Supply, Model: "scpi-supply", Every: time.Second, CalibrationDue: "2027-02-28", Isolation: capture.Isolation{Port: "earthed", Output: "floating"}, Acts: []string{"output", "limits"}},
		{Name: sim.Thermo, Model: "scpi-thermometer", Every: time.Second, CalibrationDue: "2027-11-20", Isolation: capture.Isolation{Port: "isolated"}},
	} {
		in.Link, in.OnExit, in.Simulated = links[in.Name], drivers.ExitLeave, true
		if len(in.Acts) > 0 {
			in.Link += "?answer=1s" // the bench and all that looks at it share one computer
		}
		c.Instruments = append(c.Instruments, in)
	}
	// What the set takes, as the supply reads it back. The age is long because the
	// simulated bench runs faster than its links answer.
	c.Formulas = []capture.Formula{{Name: "power", Text: sim.Supply + "/volts * " + sim.Supply + "/amperes", Unit: "W", Age: 20 * time.Second}}
	return c, nil
}
