package wire

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// A lock file names the holder, as long as it lives and is not this program.
func TestLockFile(t *testing.T) {
	root := t.TempDir()
	put := tree{t, root}.put
	other := os.Getppid()
	put(fmt.Sprintf("proc/%d/comm", other), "terminal-program")
	put("dev/ttyUSB0", "")
	tree{t, root}.link("dev/by-path", "dev/ttyUSB0")
	device := filepath.Join(root, "dev/ttyUSB0")
	const nobodyHas = 4194305 // one more than the kernel's PID_MAX_LIMIT
	for text, want := range map[string]string{
		fmt.Sprintf("%10d\n", other):                    fmt.Sprintf("terminal-program (process %d)", other),
		fmt.Sprintf("%10d terminal-program x\n", other): fmt.Sprintf("terminal-program (process %d)", other),
		fmt.Sprintf("%10d\n", os.Getpid()):              "",
		fmt.Sprintf("%10d\n", nobodyHas):                "",
		"":                                              "", "-1": "", "\x12\x00\x00\x00": "",
	} {
		put("lock/LCK..ttyUSB0", text)
		for _, name := range []string{device, filepath.Join(root, "dev/by-path")} {
			got, says, _ := strings.Cut(lockedBy([]string{filepath.Join(root, "lock")}, filepath.Join(root, "proc"), name), " (so says ")
			if got != want || (got == "") != (says == "") {
				t.Errorf("%q: %s is held by %q, want %q", text, name, got, want)
			}
		}
	}
	if got := lockedBy([]string{filepath.Join(root, "nowhere")}, "/proc", device); got != "" {
		t.Errorf("without a lock file it is held by %q", got)
	}
}

// A living lock file keeps a port from being opened: its owner may not have
// closed it to others.
func TestLockFileIsHeeded(t *testing.T) {
	f := plug(t, nil)
	dir := lockDirs()[0]
	lock := filepath.Join(dir, "LCK.."+filepath.Base(f.device))
	if err := os.WriteFile(lock, fmt.Appendf(nil, "%10d\n", os.Getppid()), 0o644); err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	defer os.Remove(lock)
	_, err := Open(bg, Address{Kind: KindSerial, Path: f.device}, quick())
	if want := fmt.Sprintf("(process %d) (so says %s; delete that if it was left behind) holds it", os.Getppid(), lock); !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want %s", err, want)
	}
}

// What can be said of a holder to a user who may not look.
func TestUnseen(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root can hold something that others may not see; run as root to have this checked")
	}
	f := plug(t, nil)
	says := func(want string) {
		t.Helper()
		var got string
		asNobody(t, func() { got = unseen(f.device) })
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	says("a program of another user (sudo steadyrail ports shows which)")
	// A command line that names the port tells more. This one only waits.
	cmd := exec.Command("sh", "-c", "read x", f.device+",raw")
	in, err := cmd.StdinPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		in.Close()
		_ = cmd.Wait() // it reads the end
	}()
	says(fmt.Sprintf("a program of another user, perhaps sh (process %d), whose command line names it (sudo steadyrail ports shows which)", cmd.Process.Pid))
	if got := unseen(f.device); got != "" {
		t.Errorf("root sees all, but is told %q", got)
	}
}

func TestMentions(t *testing.T) {
	for word, want := range map[string]bool{
		"/dev/ttyUSB1": true, "/dev/ttyUSB1,raw": true, "file:/dev/ttyUSB1": true, "/dev/ttyUSB1?baud=9600": true,
		"/dev/ttyUSB10": false, "ttyUSB1": false, "": false,
	} {
		if got := mentions(word, "/dev/ttyUSB1"); got != want {
			t.Errorf("%q: %t", word, got)
		}
	}
}
