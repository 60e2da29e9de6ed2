//go:build amd64 || arm64

package powercut

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"pgregory.net/rapid"
)

// survivors gathers what many power cuts leave of one file.
func survivors(d *disk, path string) map[string]bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := map[string]bool{}
	for seed := range uint64(300) {
		content, ok := survivor(d.root, rand.New(rand.NewPCG(seed, 1)))[path]
		if ok {
			out[string(content)] = true
		} else {
			out["no file"] = true
		}
	}
	return out
}

// What programs do through the kernel is safe when they synced it, and only
// then.
func TestDiskKeepsWhatWasSynced(t *testing.T) {
	d, dir := mounted(t, 1)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	only := func(path string, want ...string) {
		t.Helper()
		got := survivors(d, path)
		for _, w := range want {
			if !got[w] {
				t.Errorf("%s is never %q", path, w)
			}
			delete(got, w)
		}
		if len(got) != 0 {
			t.Errorf("%s may also be %v", path, got)
		}
	}
	syncFolder := func() {
		t.Helper()
		f, err := os.Open(dir)
		must(err)
		must(errors.Join(f.Sync(), f.Close()))
	}
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	f, err := os.Create(a)
	must(err)
	_, err = f.Write([]byte("x"))
	must(err)
	must(f.Sync())
	only("a", "x", "no file")
	syncFolder()
	only("a", "x")
	_, err = f.WriteAt([]byte("y"), 0)
	must(err)
	only("a", "x", "y")
	must(syscall.Fdatasync(int(f.Fd())))
	only("a", "y")
	must(os.Rename(a, b))
	only("a", "y", "no file")
	only("b", "y", "no file")
	syncFolder()
	only("a", "no file")
	only("b", "y")
	must(os.Remove(b))
	only("b", "y", "no file")
	syncFolder()
	only("b", "no file")
	must(f.Close())
}

// A sync that fails does not make safe what was written before it, and neither
// does the next.
func TestFailedSyncForgets(t *testing.T) {
	d := newDisk(1)
	f := d.newFile()
	d.root.turn(turn{"a": f})
	d.root.sync()
	d.plan = fault{kind: syncs, nth: 1, count: 1, errno: syscall.EIO}
	lost, kept := 0, 0
	for range 200 {
		d.done = map[kind]int{}
		d.truncate(f, 0)
		f.sync()
		d.write(f, []byte("x"), 0)
		if errno := d.sync(f); errno != syscall.EIO {
			t.Fatalf("the sync that must fail: %v", errno)
		}
		d.sync(f)
		if len(f.kept) == 0 {
			lost++
		} else {
			kept++
		}
		if string(f.now) != "x" {
			t.Fatalf("programs see %q", f.now)
		}
	}
	if lost == 0 || kept == 0 {
		t.Errorf("%d lost, %d kept", lost, kept)
	}
}

// Whatever is written and wherever the power fails: bytes that no write touched
// since the last sync are as they were synced.
func TestCutsHarmOnlyWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := &object{kept: bytes.Repeat([]byte{0xAA}, rapid.IntRange(0, 3000).Draw(t, "synced"))}
		o.now = bytes.Clone(o.kept)
		longest := len(o.kept)
		touched := map[int]bool{}
		for range rapid.IntRange(0, 6).Draw(t, "writes") {
			off, n := rapid.IntRange(0, 4000).Draw(t, "at"), rapid.IntRange(1, 1500).Draw(t, "length")
			o.change(change{off: int64(off), data: bytes.Repeat([]byte{0xBB}, n)})
			for i := off; i < off+n; i++ {
				touched[i] = true
			}
			longest = max(longest, off+n)
		}
		got := survivingContent(o, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		if len(got) < len(o.kept) || len(got) > longest {
			t.Fatalf("%d bytes survive of %d synced and %d written", len(got), len(o.kept), longest)
		}
		for i := range o.kept {
			if !touched[i] && got[i] != 0xAA {
				t.Fatalf("byte %d is %#x and was never written to", i, got[i])
			}
		}
	})
}
