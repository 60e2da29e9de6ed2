package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture/store"
)

func backupCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "backup [JOB] DIR",
		Short: "Copy one job or all jobs elsewhere, also while the daemon writes",
		Long: `Copy one job, or all jobs of the workspace, into a folder, which is made when it is not
there; one job also into a file that ends in ` + store.Extension + `. The daemon may go on writing: each
copy is whole up to one commit. It is read back and its hash chain verified before it gets
its name. Nothing is overwritten: take a new folder each time, such as
  steadyrail backup /mnt/stick/bench-2031-03-12
A job whose own chain is broken is copied as it is, and said so. With all jobs the board
sheets of the workspace go along, into boards. The configuration is not copied, nor what
an older program left beside a job.

It ends with 0 when all is copied, 1 when a job is broken, 3 when one could not be copied.`,
		Args: cobra.RangeArgs(1, 2),
	}
	dir, asJSON := workspaceFlag(c), jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		list, err := toCopy(s, *dir, args)
		if err != nil {
			return err
		}
		done, err := copyJobs(cmd.Context(), s, list)
		if len(args) == 1 {
			n, wrong := copyBoards(*dir, args[0])
			if n > 0 {
				s.say("board sheets copied: %d", n)
			}
			err = errors.Join(err, wrong)
		}
		if *asJSON {
			return errors.Join(err, writeJSON(s.out, done))
		}
		for _, j := range done {
			fmt.Fprintf(s.out, "%s  %s, %d records, head %s\n    %s\n", j.Job, store.Bytes(j.Bytes), j.Head.Count, headWords(j), j.Path)
		}
		return err
	}
	return c
}

func headWords(c store.Copied) string {
	if c.Damaged != "" {
		return "BROKEN, as in the job itself"
	}
	return c.Head.Hash
}

// pair is a job's file and where its copy goes.
type pair struct{ from, to string }

// toCopy finds out what goes where, before anything is written.
func toCopy(s streams, dir string, args []string) ([]pair, error) {
	from, err := sources(s, dir, args)
	if err != nil {
		return nil, err
	}
	dest := args[len(args)-1]
	if filepath.Ext(dest) == store.Extension && len(args) == 1 {
		return nil, usef("backup: %s is a file, and all jobs go into a folder: name one, or one job: steadyrail backup JOB %s", dest, dest)
	}
	folder := dest
	if filepath.Ext(dest) == store.Extension {
		folder = filepath.Dir(dest)
	}
	if same(folder, filepath.Join(dir, "jobs")) {
		return nil, usef("backup: %s is the folder of the jobs themselves: name another, best on another disk", folder)
	}
	var list []pair
	var taken []string
	for _, path := range from {
		p := pair{path, dest}
		if folder == dest {
			p.to = filepath.Join(dest, filepath.Base(path))
		}
		if _, err := os.Lstat(p.to); err == nil {
			taken = append(taken, p.to)
		}
		list = append(list, p)
	}
	if len(taken) > 0 {
		return nil, usef("backup: nothing is overwritten, and there already is %s: name a new folder", strings.Join(taken, ", "))
	}
	return list, os.MkdirAll(folder, 0o700)
}

// sources lists the files that are to be copied.
func sources(s streams, dir string, args []string) ([]string, error) {
	if len(args) == 2 {
		path, err := findJob(s, dir, args[0])
		return []string{path}, err
	}
	b, err := openBench(dir)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(b.jobFile(args[0])); err == nil {
		return nil, usef("backup: %s is a job: say where to, such as steadyrail backup %s DIR", args[0], args[0])
	}
	if b.daemon != nil {
		s.say("a daemon runs on %s: what it measured in the last second may be missing", dir)
	}
	list, err := store.JobFiles(dir)
	if err == nil && len(list) == 0 {
		s.say("no job yet")
	}
	return list, err
}

func same(a, b string) bool {
	x, errA := os.Stat(a)
	y, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(x, y)
}

// copyJobs copies what can be copied. One that cannot holds the others up no
// more than one that is broken.
func copyJobs(ctx context.Context, s streams, list []pair) ([]store.Copied, error) {
	done, failed, broken := []store.Copied{}, 0, 0
	for _, p := range list {
		c, err := store.BackupFile(ctx, p.from, p.to)
		switch {
		case ctx.Err() != nil:
			return done, context.Cause(ctx)
		case err != nil:
			failed++
			s.say("%s is not copied: %v", filepath.Base(p.from), err)
			continue
		case c.Damaged != "":
			broken++
			s.say("%s", c.Damaged)
		}
		done = append(done, c)
	}
	switch {
	case failed > 0:
		return done, fmt.Errorf("backup: %d of %d jobs are not copied", failed, len(list))
	case broken > 0:
		return done, judged(fmt.Errorf("backup: %d of %d jobs are broken and copied as they are", broken, len(list)))
	}
	return done, nil
}
