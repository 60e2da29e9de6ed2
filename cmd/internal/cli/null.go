package cli

import (
	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func nullCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "null CHANNEL OHMS",
		Short: "Say what the leads of a channel have, to be taken off",
		Long: `Say what the leads of a channel have, read with the probes held together, such as
  steadyrail null dmm/ohms 0.18
Resistances on rails are judged less it, and the record keeps both.`,
		Args: cobra.ExactArgs(2),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		v, _, err := capture.Ohm.ParseTyped(args[1], capture.Point)
		if err != nil {
			return usef("null: %w", err)
		}
		if v < 0 {
			return usef("null: %s is not what leads have: hold the probes together and read again", capture.Ohm.Text(v, 0))
		}
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActNull, Subject: args[0], Value: v})
	}
	return c
}
