package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

func eraseCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "erase JOB --why TEXT",
		Short: "Erase one closed job for good, for privacy",
		Long: `Erase the file of one closed job, the older copies beside it and its line in the list of
jobs, for privacy. It cannot be undone, asks for the job's name once more, and needs the
workspace for itself: stop the daemon. No other command and no daemon erases anything.

What remains is a line in ` + store.ErasedLog + ` of the workspace: when, how many records, the last head of
the chain and the reason you give, but not the name. The head is on reports that were
printed; who has one can tell that this job was erased.

It does not reach further: a solid-state disk may hold the blocks until it needs them,
and so may snapshots of the file system; backups, reports and exports are where you put them.`,
		Args: cobra.ExactArgs(1),
	}
	dir := workspaceFlag(c)
	why := c.Flags().String("why", "", "reason; it stays, so leave names out of it")
	yes := c.Flags().String("yes", "", "the job's name again, instead of being asked for it")
	_ = c.MarkFlagRequired("why")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return eraseJob(cmd.Context(), s, *dir, args[0], *why, *yes)
	}
	return c
}

func eraseJob(ctx context.Context, s streams, dir, id, why, yes string) error {
	switch {
	case isFile(id):
		return usef("erase: name a job of the workspace, not a file")
	case strings.TrimSpace(why) == "":
		return usef("erase: --why is empty: say a reason, without names")
	case strings.Contains(strings.ToLower(why), strings.ToLower(id)):
		return usef("erase: the reason stays in %s: leave %s out of it", store.ErasedLog, id)
	}
	if holder, err := store.ReadLock(dir); err == nil {
		return alone(&store.HeldError{Dir: dir, PID: holder.PID, Address: holder.Address})
	}
	if _, err := findJob(streams{s.in, s.out, io.Discard}, dir, id); err != nil {
		return err
	}
	if err := nameAgain(ctx, s, id, yes); err != nil {
		return err
	}
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return alone(err)
	}
	e, err := w.Erase(ctx, id, why, capture.InstantOf(time.Now()))
	err = errors.Join(err, w.Close())
	switch {
	case errors.Is(err, store.ErrOpenJob):
		return usef("%w: close it first: steadyrail job close %s", err, id)
	case errors.Is(err, store.ErrNoJob), errors.Is(err, capture.ErrJobID):
		return use(err)
	case err != nil:
		return err
	}
	tellErased(s, dir, id, e)
	return nil
}

// alone says what to do about a workspace that somebody has.
func alone(err error) error {
	var held *store.HeldError
	if errors.As(err, &held) {
		return fmt.Errorf("%w; stop the daemon to erase", err)
	}
	return err
}

// nameAgain has the name of the job typed once more.
func nameAgain(ctx context.Context, s streams, id, yes string) error {
	again := yes
	if again == "" {
		if !fromTerminal(s.in) {
			return usef("nobody can be asked here: add --yes %s; nothing was erased", id)
		}
		var err error
		if again, err = newAsker(s.in, s.err, true).line(ctx, fmt.Sprintf("Job %s will be gone for good. Type its name again: ", id)); err != nil {
			return usef("not confirmed: nothing was erased")
		}
	}
	if again != id {
		return usef("%q is not %q: nothing was erased", again, id)
	}
	return nil
}

func tellErased(s streams, dir, id string, e store.Erased) {
	fmt.Fprintf(s.out, "Job %s is erased: %d records, head %s\n", id, e.Records, e.Head)
	for _, name := range e.Files {
		fmt.Fprintf(s.out, "  removed %s\n", name)
	}
	for _, name := range e.Left {
		s.say("  left: %s, which steadyrail did not make", filepath.Join(dir, "jobs", name))
	}
	s.say("A line without its name is in %s. The disk may hold blocks of it until it needs them; backups, reports and exports are elsewhere.", filepath.Join(dir, store.ErasedLog))
}
