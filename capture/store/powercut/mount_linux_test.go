//go:build amd64 || arm64

package powercut

import (
	"context"
	"maps"
	"os"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/hanwen/go-fuse/v2/fs"
	"github.com/hanwen/go-fuse/v2/fuse"
)

// mounted mounts an empty disk. Where that cannot be done the test is skipped;
// root must be able to when everything is required.
func mounted(t *testing.T, seed uint64) (*disk, string) {
	t.Helper()
	dir := t.TempDir()
	d := newDisk(seed)
	always := time.Hour // nobody changes the disk behind the kernel's back
	never := time.Duration(0)
	server, err := fs.Mount(dir, &node{d: d, o: d.root}, &fs.Options{
		EntryTimeout: &always, AttrTimeout: &always, NegativeTimeout: &never,
		MountOptions: fuse.MountOptions{DirectMount: true, FsName: "powercut", Name: "powercut", DisableXAttrs: true},
	})
	if err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" && os.Geteuid() == 0 {
			t.Fatalf("mount a file system of our own: %v", err)
		}
		t.Skipf("SKIPPED: mount a file system of our own (needs /dev/fuse, and root or fusermount3): %v", err)
	}
	t.Cleanup(func() {
		if err := server.Unmount(); err != nil {
			t.Errorf("unmount: %v", err)
		}
	})
	return d, dir
}

// The library for FUSE does not build for 32 bits.

// node shows an object to the kernel. Every write reaches the disk when it is
// made: the kernel keeps what it has read, but holds nothing back except what is
// written through mapped memory, and that until a sync, a close or an unmapping.
type node struct {
	fs.Inode
	d *disk
	o *object
}

var (
	_ fs.NodeLookuper  = (*node)(nil)
	_ fs.NodeReaddirer = (*node)(nil)
	_ fs.NodeCreater   = (*node)(nil)
	_ fs.NodeMkdirer   = (*node)(nil)
	_ fs.NodeUnlinker  = (*node)(nil)
	_ fs.NodeRenamer   = (*node)(nil)
	_ fs.NodeOpener    = (*node)(nil)
	_ fs.NodeReader    = (*node)(nil)
	_ fs.NodeWriter    = (*node)(nil)
	_ fs.NodeFsyncer   = (*node)(nil)
	_ fs.NodeGetattrer = (*node)(nil)
	_ fs.NodeSetattrer = (*node)(nil)
)

func (n *node) attr(out *fuse.Attr) {
	out.Mode, out.Size = fuse.S_IFREG|0o600, uint64(len(n.o.now))
	if n.o.folder {
		out.Mode, out.Size = fuse.S_IFDIR|0o700, 0
	}
	out.Owner = *fuse.CurrentOwner()
	out.Blksize, out.Blocks, out.Nlink = 4096, (out.Size+511)/512, 1
}

func (n *node) child(ctx context.Context, o *object, out *fuse.EntryOut) *fs.Inode {
	c := &node{d: n.d, o: o}
	c.attr(&out.Attr)
	return n.NewInode(ctx, c, fs.StableAttr{Mode: out.Mode & syscall.S_IFMT, Ino: o.ino})
}

func (n *node) Lookup(ctx context.Context, name string, out *fuse.EntryOut) (*fs.Inode, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	o := n.o.names[name]
	if o == nil {
		return nil, syscall.ENOENT
	}
	return n.child(ctx, o, out), 0
}

func (n *node) Readdir(context.Context) (fs.DirStream, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	var list []fuse.DirEntry
	for _, name := range slices.Sorted(maps.Keys(n.o.names)) {
		o := n.o.names[name]
		mode := uint32(fuse.S_IFREG)
		if o.folder {
			mode = fuse.S_IFDIR
		}
		list = append(list, fuse.DirEntry{Name: name, Ino: o.ino, Mode: mode})
	}
	return fs.NewListDirStream(list), 0
}

func (n *node) Create(ctx context.Context, name string, _, _ uint32, out *fuse.EntryOut) (*fs.Inode, fs.FileHandle, uint32, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	o := n.d.newFile()
	if errno := n.d.name(creates, n.o, turn{name: o}); errno != 0 {
		return nil, nil, 0, errno
	}
	return n.child(ctx, o, out), nil, fuse.FOPEN_KEEP_CACHE, 0
}

func (n *node) Mkdir(ctx context.Context, name string, _ uint32, out *fuse.EntryOut) (*fs.Inode, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	o := n.d.newFolder()
	if errno := n.d.name(creates, n.o, turn{name: o}); errno != 0 {
		return nil, errno
	}
	return n.child(ctx, o, out), 0
}

func (n *node) Unlink(_ context.Context, name string) syscall.Errno {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	return n.d.name(removals, n.o, turn{name: nil})
}

// Rename moves a name within its folder; between folders it is refused, as
// between two disks.
func (n *node) Rename(_ context.Context, name string, to fs.InodeEmbedder, newName string, flags uint32) syscall.Errno {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	if flags != 0 || to.EmbeddedInode() != n.EmbeddedInode() {
		return syscall.EXDEV
	}
	return n.d.name(renames, n.o, turn{newName: n.o.names[name], name: nil})
}

func (n *node) Open(context.Context, uint32) (fs.FileHandle, uint32, syscall.Errno) {
	return nil, fuse.FOPEN_KEEP_CACHE, 0
}

func (n *node) Read(_ context.Context, _ fs.FileHandle, dest []byte, off int64) (fuse.ReadResult, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	off = min(off, int64(len(n.o.now)))
	return fuse.ReadResultData(dest[:copy(dest, n.o.now[off:])]), 0
}

func (n *node) Write(_ context.Context, _ fs.FileHandle, data []byte, off int64) (uint32, syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	if errno := n.d.write(n.o, data, off); errno != 0 {
		return 0, errno
	}
	return uint32(len(data)), 0
}

// Fsync serves fsync, fdatasync and msync, of files and folders.
func (n *node) Fsync(context.Context, fs.FileHandle, uint32) syscall.Errno {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	return n.d.sync(n.o)
}

func (n *node) Getattr(_ context.Context, _ fs.FileHandle, out *fuse.AttrOut) syscall.Errno {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	n.attr(&out.Attr)
	return 0
}

// Setattr changes the length. Modes, owners and times are taken and forgotten.
func (n *node) Setattr(_ context.Context, _ fs.FileHandle, in *fuse.SetAttrIn, out *fuse.AttrOut) (errno syscall.Errno) {
	n.d.mu.Lock()
	defer n.d.mu.Unlock()
	if size, ok := in.GetSize(); ok && size != uint64(len(n.o.now)) {
		errno = n.d.truncate(n.o, int64(size))
	}
	n.attr(&out.Attr)
	return errno
}
