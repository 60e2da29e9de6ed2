package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"steadyrail/cmd/internal/story"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// demo is what the flags of the demo say.
type demo struct {
	length    time.Duration
	listen    string
	workspace string
	seed      uint64
	logs      string
	faults    string
	plain     bool
	seeded    bool // the seed was asked for
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
time; without, it takes about three minutes and the bench then stays up until Ctrl-C.

With --plain there is no story: the set lies there as it came in, a job is open, and the hands
are yours: steadyrail demo hands, or the page Hands. That is how to practise a whole job. Ended
or killed, and started again with the same --workspace, the open job and the set go on.`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d.seeded = f.Changed("seed")
		return d.run(cmd.Context(), s)
	}
	f.DurationVar(&d.length, "for", 0, "length of the whole story, 20s at the least; then it ends by itself")
	f.StringVar(&d.listen, "listen", "127.0.0.1:8470", "address of the screens")
	f.StringVar(&d.workspace, "workspace", "", "folder of the record; without it a new folder for temporary files")
	f.Uint64Var(&d.seed, "seed", 88, "seed of the simulated bench")
	f.StringVar(&d.faults, "faults", "", "script of faults, a line each: at 2m10s input joint 1.8s (bench time since the start)")
	f.BoolVar(&d.plain, "plain", false, "no story: an open job, the set as it came in, and your own hands on probes, parts and trimmer")
	f.StringVar(&d.logs, "log", "warn", "how much the daemon tells: debug, info, warn, error")
	c.AddCommand(handsCommand(s))
	return c
}

func (d *demo) run(ctx context.Context, s streams) error {
	if d.length != 0 && d.length < story.Shortest && !d.plain {
		return usef("--for %s is too short to tell it: take %s at the least", d.length, story.Shortest)
	}
	if err := configs.CheckListen(d.listen); err != nil {
		return use(err)
	}
	if n := sim.ClearLeftovers(os.TempDir()); n > 0 {
		s.say("cleared what demos that were killed left in %s (folders: %d)", os.TempDir(), n)
	}
	if d.workspace == "" {
		dir, err := os.MkdirTemp("", "steadyrail-demo-")
		if err != nil {
			return err
		}
		d.workspace = dir
	}
	level, err := zerolog.ParseLevel(d.logs)
	if err != nil {
		return usef("--log: %w", err)
	}
	script, err := d.script()
	if err != nil {
		return err
	}
	b, err := story.Open(ctx, story.Options{
		Workspace: d.workspace, Listen: d.listen, Seed: d.seed, Seeded: d.seeded, Plain: d.plain, Version: Version(), Log: logger(s, level.String()), Talk: s.out,
	})
	if err != nil {
		return err
	}
	if err := b.Start(ctx); err != nil {
		b.Bench.Close()
		return err
	}
	fmt.Fprintf(s.out, "Simulated bench. Screens: http://%s/?token=%s\nRecord: %s\n", b.App.Address(), b.App.Token(), d.workspace)
	b.Bench.Play(script)
	if d.plain {
		err = d.practise(ctx, s, b)
	} else {
		err = d.tell(ctx, s, b)
	}
	return errors.Join(err, b.Stop(context.WithoutCancel(ctx)))
}

// script reads the faults that were asked for.
func (d *demo) script() (sim.Script, error) {
	if d.faults == "" {
		return sim.Script{}, nil
	}
	text, err := os.ReadFile(d.faults)
	if err != nil {
		return sim.Script{}, usef("--faults: %w", err)
	}
	script, err := sim.ParseScript(string(text))
	if err != nil {
		return sim.Script{}, usef("--faults %s: %w", d.faults, err)
	}
	return script, nil
}

// tell tells the story and, unless it was to end by itself, keeps the bench up.
func (d *demo) tell(ctx context.Context, s streams, b *story.Demo) error {
	length := d.length
	if length == 0 {
		length = story.Usual
	}
	report, err := b.Tell(ctx, s.out, length, d.since)
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
	fmt.Fprintf(s.out, "The bench stays up: http://%s/?token=%s\nCtrl-C ends it.\n", b.App.Address(), b.App.Token())
	<-ctx.Done()
	return nil
}
