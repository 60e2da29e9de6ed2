package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/rules/diagnose"
)

func boardsGood(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "good JOB...", Short: "Hold boards that are well together, and name the odd ones",
		Long: `Hold boards of one kind that are well against each other. For each rail and polarity the
interval is told in which 95 % of such boards lie, with 95 % confidence (ISO 16269-6, normal
distribution of the logarithms), and each board that lies outside the interval of the others.
What counts is what the rails of each job read cold, with everything on the board. It ends
with 1 when a board is odd, or when there are not enough boards for any rail.`, Args: cobra.MinimumNArgs(1)}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		boards, err := goodBoards(cmd.Context(), s, *dir, args)
		if err != nil {
			return err
		}
		list := diagnose.KnownGood(boards)
		odd := diagnose.OddBoards(list)
		if *asJSON {
			err = writeJSON(s.out, map[string]any{"intervals": list, "odd": slices.Concat([]string{}, odd)})
		} else {
			showGood(s, list, odd)
		}
		enough := slices.ContainsFunc(list, func(g capture.GoodInterval) bool { return g.K > 0 })
		if err == nil && (len(odd) > 0 || !enough) {
			return &exitError{code: exitJudgedBad}
		}
		return err
	}
	return c
}

func goodBoards(ctx context.Context, s streams, dir string, ids []string) (out []diagnose.GoodBoard, err error) {
	for i, id := range ids {
		if slices.Contains(ids[:i], id) {
			return nil, usef("boards good: %s is named twice: one board is one witness", id)
		}
		trail, _, err := trailOf(ctx, s, dir, id)
		if err != nil {
			return nil, err
		}
		rested := trail.Rested()
		if len(rested) == 0 {
			return nil, usef("boards good: no rail of %s was read in ohms, cold and with everything on the board", id)
		}
		out = append(out, diagnose.GoodBoard{Name: id, Readings: rested})
	}
	return out, nil
}

func showGood(s streams, list []capture.GoodInterval, odd []string) {
	for _, g := range list {
		fmt.Fprintln(s.out, fitted(s.out, g.Say))
	}
	if len(odd) > 0 {
		fmt.Fprintln(s.out, "Odd: "+strings.Join(odd, ", "))
	}
}
