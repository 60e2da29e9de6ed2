package cli

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"time"

	"github.com/spf13/cobra"
)

// notifierLine is what the daemon says of a notifier.
type notifierLine struct {
	Name    string  `json:"name"`
	Kind    string  `json:"kind"`
	Up      *bool   `json:"up"`
	Queued  int     `json:"queued"`
	Sent    uint64  `json:"sent"`
	Tests   uint64  `json:"tests"`
	Failed  uint64  `json:"failed"`
	Urgent  uint64  `json:"failed_urgent"`
	Problem string  `json:"problem,omitempty"`
	Failing float64 `json:"failing_seconds"`
}

// say is the line that people read.
func (n notifierLine) say() string {
	switch {
	case n.Up == nil:
		return "not tried yet: steadyrail notifiers test " + fmt.Sprintf("%q", n.Name)
	case *n.Up:
		return n.counts()
	}
	since := time.Duration(n.Failing * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("has failed for %s: %s; %s", since, n.Problem, n.counts())
}

// counts says how many alarms were told, and how many tests.
func (n notifierLine) counts() string {
	tests := ""
	if n.Tests > 0 {
		tests = fmt.Sprintf(", %d %s told", n.Tests, plural(n.Tests, "test", "tests"))
	}
	return fmt.Sprintf("%d told%s, %d did not arrive, %d wait", n.Sent, tests, n.Failed, n.Queued)
}

func plural(n uint64, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func notifiersCommand(s streams) *cobra.Command {
	c := &cobra.Command{Use: "notifiers", Short: "List who is told of alarms and how that goes; send a test", Args: cobra.NoArgs}
	dir := workspaceFlag(c)
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		_, list, err := notifiersOf(cmd.Context(), *dir)
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, list)
		}
		if len(list) == 0 {
			fmt.Fprintln(s.out, "Nobody is told: the configuration has no notify.")
		}
		for _, n := range list {
			fmt.Fprintf(s.out, "%s: %s\n", n.Name, n.say())
		}
		return nil
	}
	c.AddCommand(&cobra.Command{
		Use:   "test [NAME]",
		Short: "Send a message that says it is a test to one notifier, or to all",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return testNotifiers(cmd.Context(), s, *dir, args)
		},
	})
	return c
}

func notifiersOf(ctx context.Context, dir string) (*client, []notifierLine, error) {
	d, err := daemon(dir)
	if err != nil {
		return nil, nil, err
	}
	var answer struct {
		Notifiers []notifierLine `json:"notifiers"`
	}
	err = d.get(ctx, "/api/v1/notifiers", &answer)
	return d, answer.Notifiers, err
}

// testNotifiers tries each; one that fails keeps none from its turn.
func testNotifiers(ctx context.Context, s streams, dir string, names []string) error {
	d, list, err := notifiersOf(ctx, dir)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		for _, n := range list {
			names = append(names, n.Name)
		}
	}
	var errs []error
	for _, name := range names {
		res, err := d.post(ctx, "/api/v1/notifiers/"+url.PathEscape(name)+"/test", nil)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		fmt.Fprintln(s.out, res.Say)
	}
	return errors.Join(errs...)
}
