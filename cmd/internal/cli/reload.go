package cli

import (
	"fmt"

	"github.com/spf13/cobra"
)

func reloadCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "reload",
		Short: "Have the daemon read its configuration again",
		Long: `Have the daemon read its configuration again and put in force what can be changed without
touching a link: rules, formulas, notifiers, meters without a port, the address for phones. An
open job has its new rules in its record, and is judged by them from there on. What else differs
is named: it waits for a restart. With anything wrong in the file nothing is changed at all, and
each problem is told with file and line.

It ends with 0 when it was read, 2 when it is wrong, and 3 when no daemon runs.`,
		Args: cobra.NoArgs,
	}
	dir := workspaceFlag(c)
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		res, err := d.post(cmd.Context(), "/api/v1/reload", nil)
		switch {
		case err != nil:
			return err
		case *asJSON:
			return writeJSON(s.out, res)
		}
		fmt.Fprintln(s.out, wrapped(res.Say, ""))
		return nil
	}
	return c
}
