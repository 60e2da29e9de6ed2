package cli

import (
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func jobPart(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: `part [JOB] PLACE --type TYPE --from "own stock"`, Short: "Add a part that was fitted, and where it is from", Args: cobra.RangeArgs(1, 2),
		Long: "Add a part that was fitted: where it sits, its type, and where it is from: " + strings.Join(capture.Origins(), ", ") + ", or other words:" + `
  steadyrail job part C104 --type "470 uF 25 V" --from "own stock"
  steadyrail job part AB-0147 PS2 --type "step-down board" --from "own stock" \
    --replaces "potted +5 V converter"`,
	}
	id := jobFlag(c)
	var p capture.Fitted
	f := c.Flags()
	f.StringVar(&p.Type, "type", "", "as its maker calls it")
	f.StringVar(&p.Maker, "maker", "", "who made it")
	f.StringVar(&p.Origin, "from", "", "where it is from")
	f.StringVar(&p.DateCode, "date-code", "", "printed on it, or batch")
	f.IntVar(&p.Quantity, "quantity", 1, "how many")
	f.StringVar(&p.Replaces, "replaces", "", "the part that went")
	f.StringVar(&p.Cost, "cost", "", "with its currency")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		where := named(args, id)
		if lacks := partLacks(where, p); lacks != "" {
			return usef("part: %s", lacks)
		}
		if err := p.Check(); err != nil {
			return usef("part: %w", err)
		}
		return act(cmd.Context(), s, *dir, *id, p.Act(where, ""))
	}
	return c
}

// partLacks names all that is missing at once, as it is typed; empty: nothing.
func partLacks(where string, p capture.Fitted) string {
	var lacks []string
	for _, must := range [][2]string{
		{where, "its place on the board, such as C104"}, {p.Type, "its type: --type, as its maker calls it"},
		{p.Origin, `where it is from: --from "` + strings.Join(capture.Origins(), `", "`) + `" or other words`},
	} {
		if strings.TrimSpace(must[0]) == "" {
			lacks = append(lacks, must[1])
		}
	}
	if len(lacks) == 0 {
		return ""
	}
	return "say " + strings.Join(lacks, "; and ")
}
