package cli

import (
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
Lift the probe first; what was there before does not count. Touch the rail within 30 seconds.
A meter that is set to ohms needs no rail: put its probes together instead.`,
		Args: cobra.RangeArgs(1, 2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		a := capture.Act{Verb: capture.ActTap, Subject: args[0]}
		if len(args) == 2 {
			a.Text = args[1]
			s.say("Touch %s with %s now, for a few seconds.", args[1], args[0])
		} else {
			s.say("Put the probes of %s together now, for a few seconds.", args[0])
		}
		return act(cmd.Context(), s, *dir, *id, a)
	}
	return c
}

func takeCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "take CHANNEL RAIL",
		Short: `Measure another function for a moment: steadyrail take dmm/ohms "+5 V logic"`,
		Long: `Have a meter that watches one thing measure another for a moment, with the settling that its
input needs, and go back to what it watched.`,
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
