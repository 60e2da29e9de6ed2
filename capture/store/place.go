package store

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// unfit says why a workspace may not lie in dir, which exists, as the rest of a
// sentence that begins with the folder; "" when nothing speaks against it.
func unfit(dir string) string {
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	if kind := mountType(dir); servedElsewhere(kind) {
		return "it lies on a file system that other machines or programs take part in (" + kind + "), where a sudden stop can ruin the record: choose a folder on a local disk"
	}
	if root := synchronised(dir); root != "" {
		return "it lies in " + root + ", a folder that is synchronised with other computers: a file that is written all day is copied there in pieces that do not fit together, " +
			"and may be replaced by an older one: choose a folder that is not, and copy closed jobs there with steadyrail backup"
	}
	return ""
}

// servedElsewhere reports whether a type of mount is one that is not a local
// disk. The names are those that operating systems list mounts by, from memory.
func servedElsewhere(kind string) bool {
	if strings.HasPrefix(kind, "fuse.") {
		return true // sshfs, rclone, glusterfs and the like
	}
	return slices.Contains([]string{
		"nfs", "nfs4", "cifs", "smb3", "smbfs", "afpfs", "webdav", "ncpfs", "afs", "coda", "ceph", "9p", "virtiofs", // of other machines, or of the host
		"lustre", "gpfs", "beegfs", "orangefs", "pvfs2", "ocfs2", "gfs2", // shared by a cluster
		"vboxsf", "prl_fs", "vmhgfs", // of the host of a virtual machine
		"fuse", "macfuse", "osxfuse",
	}, kind)
}

// marker is what a program that synchronises folders leaves in the root of one.
type marker struct {
	pattern string // of [filepath.Match]
	folder  bool   // what has the name is a folder; else a file
}

// markers are from memory: the names that the usual programs of this kind give.
// A folder .dropbox, for one, is no marker: it holds settings, beside the
// folder that is synchronised.
var markers = []marker{
	{".dropbox", false}, {".dropbox.cache", true},
	{".stfolder", true}, {".stfolder", false}, {".stversions", true},
	{"._sync_*.db", false}, {".sync_*.db", false}, {".csync_journal.db", false}, {".owncloudsync.log", false}, {".nextcloudsync.log", false},
	{".SyncID", false}, {".SyncIgnore", false},
	{".megaignore", false}, {".tmp.drivedownload", true}, {".tmp.driveupload", true},
	{".849C9593-D756-4E56-8D6E-42412F2A707B", false},
}

// syncedNames are folders that an operating system synchronises by their names.
var syncedNames = []string{"Mobile Documents", "com~apple~CloudDocs"}

// synchronised returns the folder, dir or one above it, that a program on this
// computer keeps the same on others; "" when none shows it.
func synchronised(dir string) string {
	for {
		if slices.Contains(syncedNames, filepath.Base(dir)) || marked(dir) {
			return dir
		}
		above := filepath.Dir(dir)
		if above == dir {
			return ""
		}
		dir = above
	}
}

// marked looks for a marker. A folder that may not be listed has none.
func marked(dir string) bool {
	list, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(list, func(e os.DirEntry) bool {
		return slices.ContainsFunc(markers, func(m marker) bool {
			fits, _ := filepath.Match(m.pattern, e.Name())
			return fits && e.IsDir() == m.folder
		})
	})
}
