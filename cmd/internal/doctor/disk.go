package doctor

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"steadyrail/capture/store"
)

// workspace tells whether the folder is there and may be written.
func (b Bench) workspace(context.Context) []Finding {
	const looked = "workspace"
	info, err := os.Stat(b.Workspace)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return one(looked, Note, "there is no folder "+b.Workspace+" yet: the daemon makes it", "")
	case err != nil:
		return one(looked, Fails, err.Error(), "give this user the right to it")
	case !info.IsDir():
		return one(looked, Fails, b.Workspace+" is no folder", "name another with --workspace DIR")
	}
	return one(looked, Fine, b.Workspace, "")
}

// How the disk is judged. The record is committed once a second, and a commit that
// takes longer than a tenth of it leaves little for the rest (common practice).
const (
	scarce     = 1_000_000_000 // bytes: below it the daemon warns, too
	full       = 50_000_000    // bytes
	slowSync   = 100 * time.Millisecond
	uselessly  = time.Second
	syncTrials = 5
	syncBytes  = 64 << 10 // about what a second of a busy bench commits
)

// disk measures the room, and how long it takes until what was written is safe.
func (b Bench) disk(context.Context) []Finding {
	dir := b.Workspace
	for _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) && dir != filepath.Dir(dir); _, err = os.Stat(dir) {
		dir = filepath.Dir(filepath.Clean(dir)) // where it will lie
	}
	return append(b.room(dir), syncing(dir)...)
}

func (b Bench) room(dir string) []Finding {
	const looked = "disk space"
	free, err := b.Free(dir)
	if err != nil {
		return one(looked, Attend, err.Error(), "")
	}
	found := store.Bytes(free).String() + " free"
	const do = "make room, or have closed jobs elsewhere: steadyrail backup"
	switch {
	case free < full:
		return one(looked, Fails, found, do)
	case free < scarce:
		return one(looked, Attend, found, do)
	}
	return one(looked, Fine, found, "")
}

// syncing measures in the folder of the record.
func syncing(dir string) []Finding {
	const looked = "disk, time to be safe"
	took, err := syncTime(dir)
	if err != nil {
		return one(looked, Fails, "nothing can be written to "+dir+": "+err.Error(), "give this user the right to write there, or name another folder")
	}
	return judgeSync(looked, took)
}

func judgeSync(looked string, took time.Duration) []Finding {
	found := fmt.Sprintf("64 KiB are on the disk after %s (median of %d)", took.Round(10*time.Microsecond), syncTrials)
	const do = "take a faster disk for the workspace: the record is committed once a second"
	switch {
	case took >= uselessly:
		return one(looked, Fails, found, do)
	case took >= slowSync:
		return one(looked, Attend, found, do)
	}
	return one(looked, Fine, found, "")
}

// syncTime is the median of some trials.
func syncTime(dir string) (time.Duration, error) {
	f, err := os.CreateTemp(dir, ".doctor-*")
	if err != nil {
		return 0, err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	data := make([]byte, syncBytes)
	var all []time.Duration
	for range syncTrials {
		begun := time.Now()
		if _, err := f.WriteAt(data, 0); err != nil {
			return 0, err
		}
		if err := f.Sync(); err != nil {
			return 0, err
		}
		all = append(all, time.Since(begun))
	}
	slices.Sort(all)
	return all[len(all)/2], nil
}

// newest is how many files of jobs are verified: those that are worked on.
const newest = 3

// record verifies the newest jobs up to their heads. It reads the files alone, a
// daemon may run.
func (b Bench) record(ctx context.Context) []Finding {
	const looked = "record"
	files, err := jobFiles(filepath.Join(b.Workspace, "jobs"))
	switch {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return one(looked, Fails, "the jobs cannot be listed: "+err.Error(), "give this user the right to read them")
	case len(files) == 0:
		return one(looked, Note, "there are no jobs yet", "")
	}
	var out []Finding
	for _, path := range files[:min(newest, len(files))] {
		out = append(out, verified(ctx, looked, path))
	}
	if more := len(files) - newest; more > 0 {
		out = append(out, Finding{looked, fmt.Sprintf("%d older jobs were not looked at", more), "", Note})
	}
	return out
}

func verified(ctx context.Context, looked, path string) Finding {
	name := filepath.Base(path)
	name = name[:len(name)-len(store.Extension)]
	bad := func(err error) Finding {
		return Finding{looked, "job " + name + ": " + err.Error(), "see what still holds: steadyrail verify " + name, Fails}
	}
	f, err := store.OpenFile(path)
	if err != nil {
		return bad(err)
	}
	defer f.Close(ctx)
	heads, err := f.Heads(ctx)
	if err != nil {
		return bad(err)
	}
	return Finding{looked, fmt.Sprintf("job %s agrees with its own hashes: %d records up to head %.8s", name, heads.Newest.Head.Count, heads.Newest.Head.Hash), "", Fine}
}

// jobFiles lists the files of jobs, the newest first.
func jobFiles(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	type file struct {
		path string
		at   time.Time
	}
	var list []file
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || filepath.Ext(e.Name()) != store.Extension {
			continue
		}
		list = append(list, file{filepath.Join(dir, e.Name()), info.ModTime()})
	}
	slices.SortFunc(list, func(a, b file) int { return b.at.Compare(a.at) })
	var out []string
	for _, f := range list {
		out = append(out, f.path)
	}
	return out, nil
}
