package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/cmd/internal/story"
	"steadyrail/configs"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

// demo is what the flags of the demo say.
type demo struct {
	length    time.Duration
	listen    string
	workspace string
	seed      uint64
	logs      string
	since     time.Time
}

func demoCommand(s streams) *cobra.Command {
	d := demo{since: time.Now()}
	c := &cobra.Command{
		Use:   "demo",
		Short: "Live through a whole repair on a simulated bench",
		Long: `Live through a whole repair on a simulated bench: a fictional stage piano, a short found cold,
a stand-in converter preset, trimmed, warmed up and soaked, a collapse and its alarm, a report.

Everything runs as on a real bench, through real ports and drivers; only the instruments, the
board and the clock are a physical model. With --for the story ends by itself after that
time; without, it takes about three minutes and the bench then stays up until Ctrl-C.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return d.run(cmd.Context(), s) },
	}
	f := c.Flags()
	f.DurationVar(&d.length, "for", 0, "length of the whole story, 20s at the least; then it ends by itself")
	f.StringVar(&d.listen, "listen", "127.0.0.1:8470", "address of the screens")
	f.StringVar(&d.workspace, "workspace", "", "folder of the record; without it a new folder for temporary files")
	f.Uint64Var(&d.seed, "seed", 88, "seed of the simulated bench")
	f.StringVar(&d.logs, "log", "warn", "how much the daemon tells: debug, info, warn, error")
	return c
}

func (d *demo) run(ctx context.Context, s streams) error {
	if d.length != 0 && d.length < story.Shortest {
		return usef("--for %s is too short to tell it: take %s at the least", d.length, story.Shortest)
	}
	if d.workspace == "" {
		dir, err := os.MkdirTemp("", "steadyrail-demo-")
		if err != nil {
			return err
		}
		d.workspace = dir
	}
	clock := sim.NewClock(capture.InstantOf(time.Now()), 1)
	clock.Fine()
	bench := sim.NewBench(clock, d.seed, sim.Scenario{})
	if err := bench.Start(ctx); err != nil {
		return err
	}
	defer bench.Close()
	level, err := zerolog.ParseLevel(d.logs)
	if err != nil {
		return usef("--log: %w", err)
	}
	cfg, err := d.config(bench.Links())
	if err != nil {
		return err
	}
	leash := story.NewLeash(clock)
	a, err := app.New(app.Options{
		Config: cfg, Clock: clock, Log: logger(s, level.String()), Version: Version(),
		Talk: s.out, Simulated: true, Speed: clock.Speed, Faults: bench.FaultHandler(), Watch: leash,
	})
	if err != nil {
		return err
	}
	if err := a.Start(ctx); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Simulated bench. Screens: http://%s/?token=%s\nRecord: %s\n", a.Address(), a.Token(), d.workspace)
	err = d.tell(ctx, s, &story.Story{App: a, Bench: bench, Clock: clock, Leash: leash})
	return errors.Join(err, a.Stop(context.WithoutCancel(ctx)))
}

// tell tells the story and, unless it was to end by itself, keeps the bench up.
func (d *demo) tell(ctx context.Context, s streams, st *story.Story) error {
	st.Out, st.Length, st.Folder, st.Since = s.out, d.length, d.workspace, d.since
	if d.length == 0 {
		st.Length = story.Usual
	}
	report, err := st.Tell(ctx)
	if ctx.Err() != nil {
		return nil // Ctrl-C in the middle is no failure
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "\nReport: %s\n", report)
	if d.length != 0 {
		return nil
	}
	fmt.Fprintf(s.out, "The bench stays up: http://%s/?token=%s\nCtrl-C ends it.\n", st.App.Address(), st.App.Token())
	<-ctx.Done()
	return nil
}

// config is the configuration of the simulated bench.
func (d *demo) config(links map[string]string) (*configs.Config, error) {
	models, err := drivers.LoadModels("")
	if err != nil {
		return nil, err
	}
	c := &configs.Config{Bench: "east", Workspace: d.workspace, Listen: d.listen, Models: models}
	for _, in := range []struct {
		name, model string
		every       time.Duration
		acts        []string
		due         string
		isolation   capture.Isolation
	}{
		{sim.DMM, "scpi-multimeter", 200 * time.Millisecond, nil, "2027-09-30", capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}},
		{sim.DMM2, "scpi-multimeter", 500 * time.Millisecond, nil, "2027-06-15", capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}},
		{sim.DMM3, "scpi-multimeter", 500 * time.Millisecond, nil, "2027-06-15", capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}},
		{sim.DMM4, "scpi-multimeter", 500 * time.Millisecond, nil, "2026-10-31", capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}},
		{sim.Supply, "scpi-supply", time.Second, []string{"output", "limits"}, "2027-02-28", capture.Isolation{Port: "earthed"}},
		{sim.Thermo, "scpi-thermometer", time.Second, nil, "2027-11-20", capture.Isolation{Port: "isolated"}},
	} {
		c.Instruments = append(c.Instruments, drivers.Config{
			Name: in.name, Model: in.model, Link: links[in.name], Every: in.every, Acts: in.acts, OnExit: "leave",
			CalibrationDue: in.due, Isolation: in.isolation, Simulated: true,
		})
	}
	return c, nil
}
