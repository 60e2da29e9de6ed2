package cli

import (
	"context"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func tapCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "tap METER [RAIL]",
		Short: "Confirm which meter is which by touching a rail",
		Long: `Confirm a meter that cannot say who it is. After each connection its readings belong to no
rail until a person touches one with it and its reading follows:
  steadyrail tap handheld "+5 V logic"
  steadyrail tap handheld 1
The rail is named, or numbered as on the sheet. Lift the probe first; what was there before does not count. Touch the rail within 30 seconds.
A meter that is set to ohms needs no rail: put its probes together instead.`,
		Args: cobra.RangeArgs(1, 2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		a := capture.Act{Verb: capture.ActTap, Subject: args[0]}
		// Nobody is to touch anything before it is known that meter and rail exist.
		m, err := knownMeter(cmd.Context(), d, args[0])
		if err != nil {
			return err
		}
		if len(args) == 2 {
			if a.Text, err = railOf(cmd.Context(), d, *id, args[1]); err != nil {
				return err
			}
		}
		switch {
		case m.certain(): // nothing is to be touched: the daemon says why
		case len(args) == 2:
			s.say("Touch %s with %s now, for a few seconds.", a.Text, args[0])
		default:
			s.say("Put the probes of %s together now, for a few seconds.", args[0])
		}
		stop := waiting(s, a.Text, func() string { return askedOf(cmd.Context(), d, args[0]) })
		res, err := d.act(cmd.Context(), *id, a)
		stop()
		return told(s, res, err)
	}
	return c
}

// meter is what is asked of an instrument here.
type meter struct {
	Info struct {
		Name string `json:"name"`
	} `json:"info"`
	Up      bool   `json:"up"`
	Problem string `json:"problem"` // also what is asked of a person
}

// certain reports whether it answers and is known for what it is.
func (m meter) certain() bool { return m.Up && m.Problem == "" }

func metersOf(ctx context.Context, d *client) ([]meter, error) {
	var answer struct {
		Instruments []meter `json:"instruments"`
	}
	err := d.get(ctx, "/api/v1/instruments", &answer)
	return answer.Instruments, err
}

// askedOf is what the screens ask a person to do with a meter now; "" when nobody
// can say.
func askedOf(ctx context.Context, d *client, name string) string {
	list, err := metersOf(ctx, d)
	if err != nil {
		return ""
	}
	for _, in := range list {
		if in.Info.Name == capture.ChannelID(name).Instrument() {
			return in.Problem
		}
	}
	return ""
}

// knownMeter returns an instrument, and refuses one that the bench has not.
func knownMeter(ctx context.Context, d *client, name string) (meter, error) {
	list, err := metersOf(ctx, d)
	if err != nil {
		return meter{}, err
	}
	var names []string
	for _, in := range list {
		if names = append(names, in.Info.Name); in.Info.Name == capture.ChannelID(name).Instrument() {
			return in, nil
		}
	}
	return meter{}, usef("tap: there is no instrument %s; there are %s", name, strings.Join(names, ", "))
}

// waitingEvery is how often it is said that a touch is being waited for, and
// askingEvery how often it is asked whether something else is to be done first.
const (
	waitingEvery = 4 * time.Second
	askingEvery  = 500 * time.Millisecond
)

// waiting says again and again what is to be touched, and at once when the probe
// has to be lifted first, until its stop function is called, which waits for the
// last word.
func waiting(s streams, rail string, asked func() string) (stop func()) {
	what := "touch " + rail
	if rail == "" {
		what = "put the probes together"
	}
	const alreadyThere = " already: lift it"
	done := make(chan struct{})
	var saying sync.WaitGroup
	began := time.Now()
	saying.Go(func() {
		again, ask := time.NewTicker(waitingEvery), time.NewTicker(askingEvery)
		defer again.Stop()
		defer ask.Stop()
		there := false
		for {
			select {
			case <-ask.C:
				words := asked()
				if already := strings.Contains(words, alreadyThere); already != there && words != "" { // nobody can say: then nothing is new
					there = already
					s.say("  %s", capture.Capital(words))
				}
			case <-again.C:
				if !there {
					s.say("  %s now ... waiting for it since %.0f s", what, time.Since(began).Seconds())
				}
			case <-done:
				return
			}
		}
	})
	return func() {
		close(done)
		saying.Wait()
	}
}

// railOf returns the full name of the rail that a person means.
func railOf(ctx context.Context, d *client, id, typed string) (string, error) {
	sheet, err := railsOf(ctx, d, id)
	if err != nil {
		return "", err
	}
	rail, err := sheet.FindRail(typed)
	if err != nil {
		return "", usef("%w", err)
	}
	return rail.Name, nil
}

// railsOf asks the daemon for the rails of a job, in the order of its sheet.
func railsOf(ctx context.Context, d *client, id string) (sheet capture.Sheet, err error) {
	var answer struct {
		Rails []struct {
			Rail capture.Rail `json:"rail"`
		} `json:"rails"`
	}
	if err := d.get(ctx, "/api/v1/rails?job="+url.QueryEscape(id), &answer); err != nil {
		return sheet, err
	}
	for _, r := range answer.Rails {
		sheet.Rails = append(sheet.Rails, r.Rail)
	}
	return sheet, nil
}

func takeCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "take CHANNEL RAIL",
		Short: "Measure another function for a moment",
		Long: `Have a meter that watches one thing measure another for a moment, with the settling that its
input needs, and go back to what it watched, such as
  steadyrail take dmm/ohms "+5 V logic"`,
		Args: cobra.ExactArgs(2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	n := c.Flags().Int("readings", 0, "how many readings; 0 is 3")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if *n < 0 || *n > 100 {
			return usef("--readings goes from 1 to 100")
		}
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActTake, Subject: args[0], Text: args[1], Value: float64(*n)})
	}
	return c
}
