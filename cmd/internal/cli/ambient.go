package cli

import (
	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func ambientCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "ambient CELSIUS",
		Short: "Say what the room has, for the meters' accuracy",
		Long: `Say what a thermometer in the room shows, such as
  steadyrail ambient 31.5
Outside 23 ± 5 °C meters are less accurate, and what they are judged by grows with
it. After eight hours, or where nobody said it, 23 °C are assumed and said. A channel
that is placed with --point ambient says it all the time.`,
		Args: cobra.ExactArgs(1),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		v, _, err := capture.Celsius.ParseTyped(args[0], capture.Point)
		if err != nil {
			return usef("ambient: %w", err)
		}
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActAmbient, Value: v})
	}
	return c
}
