package store

import (
	"strings"
	"testing"
)

// Lines in the form of proc_pid_mountinfo(5), Linux man-pages.
const mounts = `22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/root rw
30 22 0:25 / /home rw shared:5 master:2 - btrfs /dev/sdb rw
41 30 0:50 / /home/bench/far\040away rw,nosuid - fuse.sshfs far:/data rw,user_id=1000
42 30 0:51 / /home/bench/stack rw - nfs4 server:/x rw
43 42 0:52 / /home/bench/stack rw - tmpfs none rw
nonsense
44 22 0:53
45 22 0:53 / /cut rw -
`

func TestMountTypes(t *testing.T) {
	for dir, want := range map[string]string{
		"/":                         "ext4",
		"/srv/bench":                "ext4",
		"/home":                     "btrfs",
		"/homestead":                "ext4",
		"/home/bench/far away":      "fuse.sshfs",
		"/home/bench/far away/deep": "fuse.sshfs",
		"/home/bench/far":           "btrfs",
		"/home/bench/stack/x":       "tmpfs", // the upper of two
		"/cut":                      "ext4",
	} {
		if got := typeIn(strings.NewReader(mounts), dir); got != want {
			t.Errorf("%s lies on %q, want %q", dir, got, want)
		}
	}
	if got := mountType("/proc"); got != "proc" {
		t.Errorf("/proc is of type %q", got)
	}
}

func FuzzMountTypes(f *testing.F) {
	f.Add(mounts, "/home/bench")
	f.Add(`1 1 0:1 / \0 rw - x`, `\`)
	f.Add(`1 1 0:1 / \999 rw - x`, "/")
	f.Fuzz(func(t *testing.T, list, dir string) {
		if kind := typeIn(strings.NewReader(list), dir); kind != "" && !strings.Contains(list, kind) {
			t.Errorf("%q is not in the list", kind)
		}
	})
}
