package cli

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture/store"
)

// kept adds, to what `job list` and `job show` say, what a person keeps house
// by: the room on the disk, and old copies that nothing deletes.
func kept(s streams, c *cobra.Command) *cobra.Command {
	after := map[string]func(ctx context.Context, dir string, args []string){
		"list": func(ctx context.Context, dir string, _ []string) { sayRoom(ctx, s, dir) },
		"show": func(ctx context.Context, dir string, args []string) { sayOldCopies(ctx, s, dir, args) },
	}
	for _, sub := range c.Commands() {
		say := after[sub.Name()]
		if say == nil {
			continue
		}
		sub.PostRun = func(cmd *cobra.Command, args []string) {
			if asJSON, _ := cmd.Flags().GetBool("json"); !asJSON {
				say(cmd.Context(), cmd.Flag("workspace").Value.String(), args)
			}
		}
	}
	return c
}

// sayRoom says how long the disk will do. That it cannot be known is no fault
// of the command.
func sayRoom(ctx context.Context, s streams, dir string) {
	if r, ok := roomOf(ctx, dir); ok {
		s.say("disk of %s: %s", dir, r)
	}
}

// roomOf asks the daemon, which knows how fast the record grows; where none
// runs, nothing grows.
func roomOf(ctx context.Context, dir string) (r store.Room, ok bool) {
	b, err := openBench(dir)
	if err != nil {
		return r, false
	}
	if b.daemon == nil {
		r.Free, err = store.FreeSpace(dir)
		return r, err == nil
	}
	resp, err := b.daemon.do(ctx, http.MethodGet, "/metrics", nil)
	if err != nil {
		return r, false
	}
	defer resp.Body.Close()
	got := samples(resp.Body)
	free, ok := got["steadyrail_workspace_free_bytes"]
	r = store.Room{Free: int64(free), Rate: -1}
	if rate, known := got["steadyrail_workspace_growth_bytes_per_second"]; known {
		r.Rate = rate
	}
	return r, ok
}

// samples reads the samples without labels of a metrics page in its text form.
func samples(page io.Reader) map[string]float64 {
	out := map[string]float64{}
	for sc := bufio.NewScanner(page); sc.Scan(); {
		name, value, ok := strings.Cut(sc.Text(), " ")
		if v, err := strconv.ParseFloat(value, 64); ok && err == nil {
			out[name] = v
		}
	}
	return out
}

// sayOldCopies names the copies in older formats beside a job.
func sayOldCopies(ctx context.Context, s streams, dir string, args []string) {
	var id string
	if len(args) > 0 {
		id = args[0]
	} else if id, _ = newestOpen(ctx, streams{s.in, s.out, io.Discard}, dir, ""); id == "" {
		return
	}
	path := (&bench{dir: dir}).jobFile(id)
	if _, err := os.Stat(path); err != nil {
		path = besides(dir, id)
	}
	copies, err := store.OldCopies(path)
	if path == "" || err != nil {
		return
	}
	for _, name := range copies {
		old := filepath.Join(filepath.Dir(path), name)
		size := "of unknown size"
		if info, err := os.Stat(old); err == nil {
			size = store.Bytes(info.Size()).String()
		}
		s.say("%s, %s, is the job as it was before its format was changed; nothing deletes it: remove it when you need it no more", old, size)
	}
}
