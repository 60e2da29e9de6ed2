package story

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// begin is when a demo's bench begins: now, or where the record of an earlier
// demo in the same folder ends. Bench time ran fast there, and a clock behind
// its record would stand still until it has caught up.
func begin(ctx context.Context, folder string) (capture.Instant, error) {
	at := capture.InstantOf(time.Now())
	files, err := filepath.Glob(filepath.Join(folder, "jobs", "*"+store.Extension))
	if err != nil {
		return 0, err
	}
	for _, name := range files {
		f, err := store.OpenFile(name)
		if err != nil {
			return 0, err
		}
		upto, err := f.Upto(ctx)
		if err = errors.Join(err, f.Close(ctx)); err != nil {
			return 0, err
		}
		at = max(at, upto.Add(time.Second))
	}
	return at, nil
}

// clearBench takes the probes off that an earlier telling left on its job: it
// was broken off, or nobody closed the job. A channel serves one job at a time.
func (s *Story) clearBench(ctx context.Context) error {
	snap := s.App.Snapshot()
	told := map[string]bool{}
	for _, c := range snap.Channels {
		if _, ours := snap.Instrument(c.Info.ID.Instrument()); !ours || c.Job == "" {
			continue
		}
		if !told[c.Job] {
			told[c.Job] = true
			s.say("Job %s is still open: its probes come off first.", c.Job)
		}
		if _, err := s.App.Place(ctx, c.Job, capture.Placement{Channel: c.Info.ID}); err != nil {
			return err
		}
	}
	return nil
}
