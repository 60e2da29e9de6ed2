package powercut

import (
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// tries is how often the program does a thing again that met an error. Once the
// disk works again, the first must succeed.
const tries = 3

// sweep plays the script on a disk that may refuse anything, and goes on from
// every error as a daemon would. Each is told; when the fault lasts, it ends
// when it is told of. Done.Lost says that Close gave up what had not been
// synced.
func sweep(dir string, l load, say func(word) error) (end word, err error) {
	if err := say(word{Reached: -1}); err != nil { // from here on it may refuse
		return end, err
	}
	reached := -1
	again := func(what string, do func(try capture.Instant) error) error {
		var err error
		for try := range capture.Instant(tries) {
			if err = do(try); err == nil {
				return nil
			}
			if e := say(word{Reached: reached, Met: fmt.Sprintf("%s: %v", what, err)}); e != nil {
				return e
			}
		}
		return fmt.Errorf("%s, after %d tries: %w", what, tries, err)
	}
	var w *store.Workspace
	var j *store.Job
	if err := again("open workspace", func(capture.Instant) (err error) { w, err = store.OpenWorkspace(dir, options); return err }); err != nil {
		return end, err
	}
	if err := again("create", func(try capture.Instant) (err error) {
		if j, err = w.Create(capture.Sheet{Job: jobID}); errors.Is(err, store.ErrExists) {
			j, err = w.Open(jobID, t0-1)
		}
		return err
	}); err != nil {
		return end, err
	}
	for i, s := range l.steps() {
		switch {
		case s.rec != nil:
			j.Consume(*s.rec)
			continue
		case s.transition != nil:
			j.Transition(*s.transition)
			continue
		case s.enclose != nil || s.unenclose != "":
			if err := again("picture", func(capture.Instant) error { return enclosure(j, s) }); err != nil {
				return end, err
			}
			continue
		case s.reopen != 0: // everything is durable: Close may fail and lose nothing
			if err := j.Close(ctx); err != nil {
				if e := say(word{Reached: reached, Met: fmt.Sprintf("close: %v", err)}); e != nil {
					return end, e
				}
			}
			err = again("reopen", func(try capture.Instant) (err error) { j, err = w.Open(jobID, s.reopen+try); return err })
		default:
			err = again("sync", func(capture.Instant) error { return j.Sync(ctx) })
		}
		if err != nil {
			return end, err
		}
		reached = i + 1
		if err := say(word{Reached: reached}); err != nil {
			return end, err
		}
	}
	if err := j.Close(ctx); err != nil {
		end.Lost = true
		if e := say(word{Reached: reached, Met: fmt.Sprintf("last close: %v", err)}); e != nil {
			return end, e
		}
	}
	if err := w.Close(); err != nil {
		return end, say(word{Reached: reached, Met: fmt.Sprintf("close workspace: %v", err)})
	}
	return end, nil
}
