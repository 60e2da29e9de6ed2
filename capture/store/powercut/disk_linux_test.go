//go:build amd64 || arm64

package powercut

import (
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
	"syscall"
)

// kind is a kind of operation that changes a disk.
type kind string

const (
	writes    kind = "write"
	syncs     kind = "sync"
	renames   kind = "rename"
	creates   kind = "create"
	removals  kind = "remove"
	truncates kind = "truncate"
)

var kinds = []kind{syncs, renames, creates, removals, truncates, writes}

// change is one write to a file, or a new length when data is nil.
type change struct {
	off  int64
	data []byte
	size int64
}

// apply does the change to a content.
func (c change) apply(content []byte) []byte {
	if c.data == nil {
		return resized(content, c.size)
	}
	if end := c.off + int64(len(c.data)); end > int64(len(content)) {
		content = resized(content, end)
	}
	copy(content[c.off:], c.data)
	return content
}

// resized cuts a content or lengthens it with zeros.
func resized(content []byte, size int64) []byte {
	if size <= int64(len(content)) {
		return content[:size]
	}
	if int64(cap(content)) < size {
		content = slices.Grow(content, int(size)-len(content))
	}
	old := len(content)
	content = content[:size]
	clear(content[old:])
	return content
}

// turn is one change of names in a folder: what each name stands for from now
// on, nil for nothing. It happens whole or not at all.
type turn map[string]*object

// object is a file or a folder: as programs see it now, as a power cut would
// certainly leave it, and what happened since.
type object struct {
	ino    uint64
	folder bool
	now    []byte
	kept   []byte
	since  []change

	names     map[string]*object
	keptNames map[string]*object
	turns     []turn
}

// turn changes names.
func (o *object) turn(t turn) {
	settleNames(o.names, t)
	o.turns = append(o.turns, t)
}

func settleNames(names map[string]*object, t turn) {
	for name, to := range t {
		if to == nil {
			delete(names, name)
		} else {
			names[name] = to
		}
	}
}

// sync makes everything so far safe.
func (o *object) sync() {
	for _, c := range o.since {
		o.kept = c.apply(o.kept)
	}
	for _, t := range o.turns {
		settleNames(o.keptNames, t)
	}
	o.since, o.turns = nil, nil
}

// forget is what a failed sync does to a file: what had got to the disk stays,
// the rest never will. Programs still see it. The names of a folder wait for its
// next sync.
func (o *object) forget(rng *rand.Rand) {
	if !o.folder {
		o.kept, o.since = survivingContent(o, rng), nil
	}
}

// fault is what goes wrong: operations of one kind, from the nth on, for as
// many as it says.
type fault struct {
	kind  kind
	nth   int // from 1
	count int
	errno syscall.Errno
}

// disk is the file system's state. Its methods need mu held.
type disk struct {
	mu      sync.Mutex
	root    *object
	ino     uint64 // the newest number
	rng     *rand.Rand
	done    map[kind]int // operations of each kind that were asked for
	total   int
	plan    fault
	struck  int  // operations that the plan made fail
	cutAt   int  // total at which onCut is called; 0: never
	cutSync bool // wait for the next sync, before which most is unsafe
	onCut   func()
}

func newDisk(seed uint64) *disk {
	d := &disk{rng: rand.New(rand.NewPCG(seed, 1)), done: map[kind]int{}}
	d.root = d.newFolder()
	return d
}

func (d *disk) newFile() *object {
	d.ino++
	return &object{ino: d.ino}
}

func (d *disk) newFolder() *object {
	o := d.newFile()
	o.folder, o.names, o.keptNames = true, map[string]*object{}, map[string]*object{}
	return o
}

// ask counts an operation before it happens and says whether it must fail.
func (d *disk) ask(k kind) syscall.Errno {
	d.total++
	d.done[k]++
	if d.cutAt != 0 && d.total >= d.cutAt && (k == syncs || !d.cutSync) {
		d.onCut()
	}
	if n := d.done[k]; k == d.plan.kind && n >= d.plan.nth && n < d.plan.nth+d.plan.count {
		d.struck++
		return d.plan.errno
	}
	return 0
}

// write writes to a file; one that fails writes the first half.
func (d *disk) write(o *object, data []byte, off int64) syscall.Errno {
	errno := d.ask(writes)
	if errno != 0 {
		data = data[:len(data)/2]
	}
	if len(data) > 0 {
		o.change(change{off: off, data: slices.Clone(data)})
	}
	return errno
}

func (d *disk) truncate(o *object, size int64) syscall.Errno {
	if errno := d.ask(truncates); errno != 0 {
		return errno
	}
	o.change(change{size: size})
	return 0
}

func (o *object) change(c change) {
	o.now = c.apply(o.now)
	o.since = append(o.since, c)
}

func (d *disk) sync(o *object) syscall.Errno {
	if errno := d.ask(syncs); errno != 0 {
		o.forget(d.rng)
		return errno
	}
	o.sync()
	return 0
}

// name does a change of names, when that is allowed to succeed.
func (d *disk) name(k kind, folder *object, t turn) syscall.Errno {
	if errno := d.ask(k); errno != 0 {
		return errno
	}
	folder.turn(t)
	return 0
}

// copied returns the objects under o as they are now, apart from what happens
// to them later.
func (o *object) copied(done map[*object]*object) *object {
	if o == nil {
		return nil
	}
	if c, ok := done[o]; ok {
		return c
	}
	c := &object{folder: o.folder, kept: slices.Clone(o.kept), since: slices.Clone(o.since)}
	done[o] = c
	c.keptNames = copiedNames(o.keptNames, done)
	for _, t := range o.turns {
		c.turns = append(c.turns, copiedNames(t, done))
	}
	return c
}

func copiedNames(names map[string]*object, done map[*object]*object) map[string]*object {
	out := maps.Clone(names)
	for name, o := range out {
		out[name] = o.copied(done)
	}
	return out
}
