//go:build amd64 || arm64

package powercut

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// script of the sweep: long enough for everything that a job's file does, with
// an alarm, a stop in order, and at the end the job's own close, with records
// that only Close can save.
var script = load{Seed: 7, Channels: 1, Seconds: 21, Sync: 5, Reopen: 10, Shut: true}

// rig is a disk, a program on it, and how far they have come.
type rig struct {
	t       *testing.T
	d       *disk
	dir     string // where the disk is mounted
	plain   string // a folder on a disk that keeps its word
	program *program
	runs    int
	tally   map[string]int
}

// Every operation that changes the disk is made to fail in turn, once, and from
// there on until the program has noticed; with an input or output error, and
// with a full disk. The program meets an error and goes on, or never notices.
// The record is whole in the end, and after a power cut too, as far as Sync had
// promised it.
func TestEveryOperationFails(t *testing.T) {
	seed := seed(t)
	d, dir := mounted(t, seed)
	r := &rig{t: t, d: d, dir: dir, plain: inMemory(t, "256m"), program: startProgram(t), tally: map[string]int{}}
	if _, alarms := expected(script.steps()); len(alarms) == 0 {
		t.Fatal("the script has no alarm")
	}
	r.run(fault{})
	done := map[kind]int{}
	for _, k := range kinds {
		done[k] = d.done[k]
	}
	all, sample := os.Getenv("STEADYRAIL_FAULTS") == "all", 12 // of each kind
	if testing.Short() {
		sample = 2
	}
	t.Logf("operations of the script: %v", done)
	for _, k := range kinds {
		if done[k] == 0 {
			t.Errorf("the script has no %s", k)
		}
		stride := 1
		if !all {
			stride = max(1, done[k]/sample)
		}
		for n := 1 + d.rng.IntN(stride); n <= done[k]; n += stride {
			for i, f := range []fault{
				{kind: k, nth: n, count: 1, errno: syscall.EIO},
				{kind: k, nth: n, count: math.MaxInt - n, errno: syscall.ENOSPC},
				{kind: k, nth: n, count: 1, errno: syscall.ENOSPC},
				{kind: k, nth: n, count: math.MaxInt - n, errno: syscall.EIO},
			} {
				if all || i == n%4 {
					r.run(f)
				}
			}
		}
		t.Logf("seed %d, up to %s: %d runs, %v", seed, k, r.runs, r.tally)
	}
}

// run plays the script with one fault and looks at what is left.
func (r *rig) run(f fault) {
	r.t.Helper()
	r.runs++
	name := fmt.Sprintf("bench%d", r.runs)
	reached, met := -1, []string{}
	end, err := r.program.run(order{Do: "sweep", Dir: filepath.Join(r.dir, name), Load: script}, func(w word) {
		r.d.mu.Lock()
		defer r.d.mu.Unlock()
		switch {
		case w.Met != "":
			met = append(met, w.Met)
			r.d.plan = fault{} // it has noticed
		case w.Reached < 0:
			r.d.done, r.d.plan, r.d.struck = map[kind]int{}, f, 0
		default:
			reached = w.Reached
		}
	})
	r.d.mu.Lock()
	defer r.d.mu.Unlock()
	r.d.plan = fault{}
	fail := func(format string, args ...any) {
		r.t.Helper()
		r.t.Errorf("%+v: %s\n\tmet: %s", f, fmt.Sprintf(format, args...), strings.Join(met, "\n\t     "))
	}
	if err != nil {
		r.program = startProgram(r.t)
	}
	if err != nil || end.Fatal != "" {
		fail("the program: %v %s", err, end.Fatal)
		return
	}
	if f.nth != 0 && r.d.struck == 0 {
		r.tally["not reached"]++
	}
	if len(met) == 0 {
		r.tally["never noticed"]++
	} else {
		r.tally["met an error"]++
	}
	if end.Lost {
		r.tally["told that the end is lost"]++
	}
	root := r.d.root.names[name]
	steps := script.steps()
	least := len(steps)
	if end.Lost {
		least = reached
	}
	if err := r.there(visible(root), steps, least); err != nil {
		fail("%v", err)
	}
	image := survivor(root.copied(map[*object]*object{}), rand.New(rand.NewPCG(r.d.rng.Uint64(), 12)))
	if err := r.left(image, steps, reached); err != nil {
		fail("after a power cut: %v", err)
	}
	root.empty()
}

// there reads what programs see without opening it for writing.
func (r *rig) there(image map[string][]byte, steps []step, least int) error {
	dir := layOut(r.t, r.plain, image)
	defer os.RemoveAll(dir)
	j, err := store.OpenFile(filepath.Join(dir, "jobs", jobID+store.Extension))
	if err != nil {
		return err
	}
	defer j.Close(ctx)
	got, err := read(j)
	if err != nil {
		return err
	}
	got = withoutGaps(got)
	records, _ := expected(steps)
	sure, _ := expected(steps[:least])
	if len(got) < len(withoutGaps(sure)) {
		return fmt.Errorf("%d records are there, want %d", len(got), len(withoutGaps(sure)))
	}
	return beginning(got, withoutGaps(records))
}

// left opens what is left: at least the first steps, and nothing but a
// beginning of the script. Gaps since the last stop are not compared.
func (r *rig) left(image map[string][]byte, steps []step, least int) error {
	dir := layOut(r.t, r.plain, image)
	defer os.RemoveAll(dir)
	records, alarms := expected(steps)
	sure, sureAlarms := expected(steps[:least])
	n, err := resumed(dir, true, withoutGaps(records), alarms, len(sureAlarms), withoutGaps)
	if err == nil && n < len(withoutGaps(sure)) {
		err = fmt.Errorf("%d records were durable, %d are there", len(withoutGaps(sure)), n)
	}
	return err
}

// withoutGaps takes out the gaps of stops: how often one is marked, and since
// when, depends on which attempt to close or open failed.
func withoutGaps(list []capture.Record) (out []capture.Record) {
	for _, r := range list {
		if gap, ok := r.Item.(capture.Gap); !ok || !strings.HasPrefix(gap.Reason, "not running") {
			out = append(out, r)
		}
	}
	return out
}

// visible is what programs see of a folder.
func visible(o *object) map[string][]byte {
	out := map[string][]byte{}
	var gather func(o *object, at string)
	gather = func(o *object, at string) {
		for name, next := range o.names {
			if p := path.Join(at, name); next.folder {
				out[p] = nil
				gather(next, p)
			} else {
				out[p] = append([]byte{}, next.now...)
			}
		}
	}
	gather(o, "")
	return out
}

// empty gives the memory of a folder's files back.
func (o *object) empty() {
	for _, next := range o.names {
		next.empty()
	}
	o.now, o.kept, o.since = nil, nil, nil
}
