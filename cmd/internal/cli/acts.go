package cli

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

func placeCommand(s streams) *cobra.Command {
	var p capture.Placement
	c := &cobra.Command{
		Use:   "place CHANNEL [RAIL]",
		Short: "Say which rail a channel is on from now on",
		Long: `Say which rail a channel is on from now on, such as
  steadyrail place dmm/volts "+5 V logic" --point TP5 --clipped
Without a rail and a point the channel is on nothing. Rules about time watch clipped probes
only: a probe that is lifted from a touch is no collapse.
A lead that would short two nets through earth or a shared low, or stands where its
instrument is not rated for, is refused; off the mains side --vouch "the reason" sets a rating
aside, in the record. With --try nothing is recorded: ask before the
lead goes on.`,
		Args: cobra.RangeArgs(1, 2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	clipped := c.Flags().Bool("clipped", false, "the probe is clipped on, not held by hand")
	try := c.Flags().Bool("try", false, "say whether it may go on, and record nothing")
	corrects := c.Flags().Int64("corrects", 0, "instant of the earlier placement that this one mends, in microseconds")
	c.Flags().StringVar(&p.Point, "point", "", "test point, or what is measured when it is no rail")
	c.Flags().StringVar(&p.Return, "return", "", "net of the other lead")
	c.Flags().StringVar(&p.Why, "why", "", "reason, for a correction")
	better := c.Flags().String("vouch", "", vouchUsage)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		p.Channel = capture.ChannelID(args[0])
		if len(args) == 2 {
			p.Rail = args[1]
		}
		if *clipped {
			p.Hold = capture.Clipped
		}
		p.Corrects = capture.Instant(*corrects)
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		if *try {
			return tryPlace(cmd.Context(), s, d, *id, p)
		}
		if err := vouch(cmd.Context(), s, d, *id, p.Channel.Instrument(), p.Rail, *better); err != nil {
			return err
		}
		res, err := d.post(cmd.Context(), "/api/v1/placements", struct {
			Job string `json:"job,omitempty"`
			capture.Placement
		}{*id, p})
		return told(s, res, err)
	}
	return c
}

func enterCommand(s streams) *cobra.Command {
	var t dashboards.Typed
	c := &cobra.Command{
		Use:   "enter RAIL VALUE",
		Short: "Enter a value read from a display: steadyrail enter 1 4.98",
		Long: `Enter a value read from a display. The rail is named, or its number on the job's sheet:
  steadyrail enter 1 4.98 --meter pocket
  steadyrail enter "+5 V logic" "4,98 V"
  steadyrail enter 2 "0.84 ohm"
  steadyrail enter 2 OL
The digits are the resolution, so type every one that is shown. A handheld of the
configuration lends its accuracy. What is hardly the rail's (another rail's value, a wrong
scale), what a meter has just read otherwise, volts in the cold checks, or nearly the name of
a known meter is asked about: --sure says that it is so. A value on the wrong rail is mended
by steadyrail correct.`,
		Args: cobra.ExactArgs(2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.Flags().BoolVar(&t.Sure, "sure", false, "it is what the display says, however unlikely, and what the meter is called")
	c.Flags().StringVar(&t.Meter, "meter", "", "meter it was read from")
	c.Flags().StringVar(&t.Point, "point", "", "test point")
	better := c.Flags().String("vouch", "", vouchUsage)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		t.Rail, t.Text = args[0], args[1]
		if *better != "" {
			d, err := daemon(*dir)
			if err == nil {
				err = vouch(cmd.Context(), s, d, *id, t.Meter, t.Rail, *better)
			}
			if err != nil {
				return err
			}
		}
		return enter(cmd.Context(), s, *dir, *id, t)
	}
	return c
}

// enter hands a typed value, or its correction, to the daemon.
func enter(ctx context.Context, s streams, dir, id string, t dashboards.Typed) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	res, err := d.post(ctx, "/api/v1/entries", struct {
		Job string `json:"job,omitempty"`
		dashboards.Typed
	}{id, t})
	return told(s, res, err)
}

func correctCommand(s streams) *cobra.Command {
	var t dashboards.Typed
	c := &cobra.Command{
		Use:   "correct WRONG-RAIL RAIL",
		Short: "File the newest value read by eye under another rail",
		Long: `File the newest value that was read by eye on one rail under another one, by name or number:
  steadyrail correct "+5 V logic" "+12 V audio" --why "wrong key"
Nothing is taken back: the record keeps both, and the report says so. A probe that was
placed on the wrong rail is mended by steadyrail place --corrects.`,
		Args: cobra.ExactArgs(2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.Flags().StringVar(&t.Why, "why", "", "reason")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		t.InsteadOf, t.Rail = args[0], args[1]
		return enter(cmd.Context(), s, *dir, *id, t)
	}
	return c
}

func soakCommand(s streams) *cobra.Command {
	c := &cobra.Command{Use: "soak start|stop", Short: "Start or stop the soak, by a plan if you like", Long: soakLong, Args: cobra.ExactArgs(1), ValidArgs: []string{"start", "stop"}}
	dir, id := workspaceFlag(c), jobFlag(c)
	yes, texts := yesFlag(c), regimenFlags(c)
	planned := length(8 * time.Hour)
	file := c.Flags().String("plan", "", "file with the plan: YAML, such as configs/soakplan.yaml")
	c.Flags().Var(&planned, "for", "planned length, such as 8h or 90m")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if *file != "" {
			if args[0] != "start" || anyRegimen(texts) || c.Flags().Changed("for") {
				return usef("--plan says all of a plan: give it with start, and no other part of one")
			}
			return startFile(cmd.Context(), s, *dir, *id, *yes, *file)
		}
		if args[0] == "start" && planned > 0 && anyRegimen(texts) {
			return startRegimen(cmd.Context(), s, *dir, *id, *yes, time.Duration(planned), texts)
		}
		a := capture.Act{Verb: capture.ActSoak, Text: args[0]}
		switch {
		case args[0] == "start" && planned > 0:
			a.Value = time.Duration(planned).Seconds()
		case args[0] == "start":
			return usef("--for must be longer than nothing")
		case args[0] != "stop":
			return usef("a soak is started or stopped, not %q", args[0])
		}
		return act(cmd.Context(), s, *dir, *id, a)
	}
	c.AddCommand(soakPlanCommand(s), soakShowCommand(s, dir, id), soakResumeCommand(s, dir, id))
	return c
}

// length is a length of time with its unit: 8 alone may be hours or minutes.
type length time.Duration

func (l *length) String() string { return time.Duration(*l).String() }

// Type names it in the help.
func (l *length) Type() string { return "LENGTH" }

// Set reads 8h, 90m, 1h30m.
func (l *length) Set(s string) error {
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return fmt.Errorf("%s of what? write %sh for hours, %sm for minutes", s, s, s)
	}
	d, err := time.ParseDuration(s)
	if err != nil {
		return fmt.Errorf("%q is no length of time: write 8h or 90m", s)
	}
	*l = length(d)
	return nil
}
