package store

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestTypesOfMounts(t *testing.T) {
	for kind, want := range map[string]bool{
		"nfs4": true, "cifs": true, "9p": true, "fuse.sshfs": true, "fuse.rclone": true, "macfuse": true, "webdav": true, "vboxsf": true,
		"": false, "ext4": false, "btrfs": false, "apfs": false, "tmpfs": false, "overlay": false, "zfs": false, "fuseblk": false, "fusectl": false,
	} {
		if got := servedElsewhere(kind); got != want {
			t.Errorf("%q: %t, want %t", kind, got, want)
		}
	}
}

func TestSynchronisedFoldersAreRefused(t *testing.T) {
	tests := []struct {
		name, mark string // of what lies in the root; a folder when it ends in /
		refused    bool
	}{
		{"nothing", "", false},
		{"a settings file of one program", ".dropbox", true},
		{"the settings folder of that program", ".dropbox/", false},
		{"its cache", ".dropbox.cache/", true},
		{"a marker folder", ".stfolder/", true},
		{"a database with a random name", ".sync_4f1e9b.db", true},
		{"an older one", "._sync_4f1e9b.db", true},
		{"a folder that is named like one", ".sync_4f1e9b.db/", false},
		{"a list of what to leave out", ".megaignore", true},
		{"a name of the operating system", "com~apple~CloudDocs/bench", true},
		{"a hidden file of no meaning", ".profile", false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			root := t.TempDir()
			dir := filepath.Join(root, "work", "bench")
			switch {
			case strings.HasSuffix(tt.mark, "/bench"):
				dir = filepath.Join(root, tt.mark)
			case strings.HasSuffix(tt.mark, "/"):
				if err := os.Mkdir(filepath.Join(root, tt.mark), 0o700); err != nil {
					t.Fatal(err)
				}
			case tt.mark != "":
				if err := os.WriteFile(filepath.Join(root, tt.mark), nil, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			w, err := OpenWorkspace(dir, quick)
			if err == nil {
				w.Close()
			}
			if (err != nil) != tt.refused {
				t.Fatalf("opening gives %v, want it refused: %t", err, tt.refused)
			}
			if tt.refused && !strings.Contains(err.Error(), "synchronised with other computers") {
				t.Errorf("refused without the reason: %v", err)
			}
		})
	}
}

// A link into a synchronised folder does not hide it.
func TestSynchronisedBehindALink(t *testing.T) {
	root, link := t.TempDir(), filepath.Join(t.TempDir(), "bench")
	if err := os.WriteFile(filepath.Join(root, ".SyncID"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(root, link); err != nil {
		t.Skipf("SKIPPED: no links here: %v", err)
	}
	if _, err := OpenWorkspace(link, quick); err == nil {
		t.Error("it was opened")
	}
}
