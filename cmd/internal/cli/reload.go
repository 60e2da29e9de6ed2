package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/dashboards/web"
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

With --try nothing is changed: it says what it would come to. The page Health shows the same.

It ends with 0 when it was read, 2 when it is wrong, and 3 when no daemon runs; with --try 0 when
it would be read, 2 when it is wrong or would be refused, and 3 as well.`,
		Args: cobra.NoArgs,
	}
	dir := workspaceFlag(c)
	asJSON := jsonFlag(c)
	try := c.Flags().Bool("try", false, "say what it would come to, and change nothing")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		if *try {
			return tryReload(cmd.Context(), s, d, *asJSON)
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

// tryReload says what a reload would come to now.
func tryReload(ctx context.Context, s streams, d *client, asJSON bool) error {
	var c web.BenchHealth
	if err := d.get(ctx, "/api/v1/configuration", &c.Configuration); err != nil {
		return err
	}
	if asJSON {
		if err := writeJSON(s.out, c.Configuration); err != nil {
			return err
		}
	} else {
		fmt.Fprintln(s.out, wrapped(strings.TrimSpace(c.Reload()+" "+c.WaitsSay()), ""))
		for _, p := range c.Problems {
			fmt.Fprintln(s.out, wrapped(p.String(), "  "))
		}
	}
	if len(c.Problems) > 0 || c.Refused != "" {
		return &exitError{code: exitUse}
	}
	return nil
}
