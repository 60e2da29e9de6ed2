package cli

import (
	"fmt"
	"net/url"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func cautionCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "caution [KEY]",
		Short: "Say the cautions of this stage, or that one was read",
		Long: `Say what stands beside the work of this stage, or that it was read:
  steadyrail caution
  steadyrail caution capacitors
Each stands on the screens until it was read, once a job, and that is kept in the record.`,
		Args: cobra.MaximumNArgs(1),
	}
	dir, id, asJSON := workspaceFlag(c), jobFlag(c), jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 1 {
			return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActCaution, Subject: args[0]})
		}
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		var answer struct {
			Stage    capture.Stage     `json:"stage"`
			Cautions []capture.Caution `json:"cautions"`
		}
		if err := d.get(cmd.Context(), "/api/v1/cautions?job="+url.QueryEscape(*id), &answer); err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, answer)
		}
		if len(answer.Cautions) == 0 {
			s.say("%s: no caution stands open: those of this stage were read, or it has none.", answer.Stage)
		}
		for _, k := range answer.Cautions {
			fmt.Fprintln(s.out, fitted(s.out, k.Key+": "+k.Say))
		}
		if len(answer.Cautions) > 0 { // the same for all: once is enough
			fmt.Fprintln(s.out, fitted(s.out, answer.Cautions[0].Law))
		}
		return nil
	}
	return c
}
