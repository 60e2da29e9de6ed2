package cli_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// nobody is the user that owns nothing. Root may open what is busy or not its
// own, so that these tests run the program as somebody else.
const nobody = 65534

// asNobody makes a command that runs the program without the rights of root, in
// a folder that everybody may enter.
func asNobody(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "steadyrail", args...)
	cmd.Env = append(os.Environ(), "NO_COLOR=1")
	if os.Geteuid() != 0 {
		return cmd
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir, err := os.MkdirTemp("", "steadyrail-nobody-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	path := filepath.Join(dir, "steadyrail")
	// Copied by another process: had this one the copy open for writing while a
	// test beside it forks, the program could not be run ("text file busy",
	// golang.org/issue/22315).
	if err := errorsOf(os.Chmod(dir, 0o755), exec.CommandContext(t.Context(), "cp", program, path).Run(), os.Chmod(path, 0o755)); err != nil {
		t.Fatal(err)
	}
	cmd.Path, cmd.Dir, cmd.Err = path, "/", nil
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody, NoSetGroups: false}}
	return cmd
}

func errorsOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// ends runs a command to its end.
func ends(t *testing.T, cmd *exec.Cmd) (code int, text string) {
	t.Helper()
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil && cmd.ProcessState == nil {
		t.Fatalf("run %s: %v", cmd.Args, err)
	}
	return cmd.ProcessState.ExitCode(), out.String()
}

// terminals starts a simulated bench on pseudo-terminals in a folder that
// everybody may enter.
func terminals(t *testing.T) (*sim.Bench, string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "steadyrail-ports-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	b := sim.NewBench(sim.NewClock(capture.InstantOf(time.Now()), 1), 7, sim.Scenario{Dir: dir})
	if err := errorsOf(os.Chmod(dir, 0o755), b.Start(context.Background())); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	return b, dir
}

// give sets owner, group and rights of the terminal behind a name.
func give(t *testing.T, name string, uid, gid int, mode os.FileMode) {
	t.Helper()
	real, err := filepath.EvalSymlinks(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := errorsOf(os.Chown(real, uid, gid), os.Chmod(real, mode)); err != nil {
		if os.Geteuid() != 0 {
			t.Skipf("SKIPPED: only root can give a port away: %v", err)
		}
		t.Fatal(err)
	}
}

// What a person reads who may not open a port: the group when there is one that
// helps, else the device rules.
func TestReadDenied(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root can take the rights to a port away; run as root to have this checked")
	}
	_, dir := terminals(t)
	give(t, dir+"/dmm", 0, 0, 0o600)
	give(t, dir+"/dmm2", 0, 4, 0o660) // group 4 is adm on Debian; elsewhere it has another name, or none
	for link, want := range map[string]string{
		"/dmm":  `permission denied: no group may use it: install the device rules, configs/70-steadyrail\.rules`,
		"/dmm2": `permission denied: it belongs to group (\w+): sudo usermod -aG (\w+) \$USER, then log out and in again`,
	} {
		for _, args := range [][]string{{"read", "serial:" + dir + link}, {"ports", "--probe", "--yes", dir + link}} {
			code, text := ends(t, asNobody(t, args...))
			if !regexp.MustCompile(want).MatchString(text) || code != 3 {
				t.Errorf("%s: ended with %d, want 3 and %q:\n%s", args, code, want, text)
			}
		}
	}
}

// A port that another program holds: its name and number are said.
func TestReadBusy(t *testing.T) {
	t.Parallel()
	_, dir := terminals(t)
	if os.Geteuid() == 0 {
		give(t, dir+"/dmm", nobody, nobody, 0o600)
	}
	link := "serial:" + dir + "/dmm"
	first := asNobody(t, "read", link, "--model", "scpi-multimeter", "--count", "100000")
	out, err := first.StdoutPipe()
	if err == nil {
		err = first.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = first.Process.Kill()
		_ = first.Wait() // killed
	}()
	if _, err := io.ReadFull(out, make([]byte, 10)); err != nil { // it reads: the port is its own
		t.Fatal(err)
	}
	code, text := ends(t, asNobody(t, "read", link))
	want := regexp.MustCompile(`busy: \S+ \(process \d+\) holds it: stop that first`)
	if !want.MatchString(text) || code != 3 {
		t.Errorf("ended with %d, want 3 and %q:\n%s", code, want, text)
	}
}

// A port that a program of root holds, seen by an ordinary user, who cannot look
// into that program: it says so, and what shows it.
func TestReadBusyByRoot(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root can hold a port that others may not see; run as root to have this checked")
	}
	_, dir := terminals(t)
	give(t, dir+"/dmm", 0, 0, 0o666)
	link := "serial:" + dir + "/dmm"
	first := exec.CommandContext(t.Context(), "steadyrail", "read", link, "--model", "scpi-multimeter", "--count", "100000")
	out, err := first.StdoutPipe()
	if err == nil {
		err = first.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = first.Process.Kill()
		_ = first.Wait() // killed
	}()
	if _, err := io.ReadFull(out, make([]byte, 10)); err != nil { // it reads: the port is its own
		t.Fatal(err)
	}
	code, text := ends(t, asNobody(t, "read", link))
	if want := "busy: a program of another user"; !strings.Contains(text, want) || !strings.Contains(text, "sudo steadyrail ports shows which") || code != 3 {
		t.Errorf("ended with %d, want 3 and %q:\n%s", code, want, text)
	}
}

// A port that vanishes while it is read: it says gone, and ends.
func TestReadGone(t *testing.T) {
	t.Parallel()
	b, dir := terminals(t)
	link := "serial:" + dir + "/dmm"
	cmd := exec.CommandContext(t.Context(), "steadyrail", "read", link, "--model", "scpi-multimeter", "--count", "100000")
	out, err := cmd.StdoutPipe()
	var talk strings.Builder
	cmd.Stderr = &talk
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(out, make([]byte, 10)); err != nil {
		t.Fatal(err)
	}
	if err := b.Fault("link down", sim.DMM); err != nil {
		t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, out) // until it ends
	_ = cmd.Wait()                  // the code is looked at below
	if code := cmd.ProcessState.ExitCode(); code != 3 || !strings.Contains(talk.String(), "gone") || !strings.Contains(talk.String(), dir) {
		t.Errorf("ended with %d, want 3 and gone:\n%s", code, talk.String())
	}
	code, text := ends(t, exec.CommandContext(t.Context(), "steadyrail", "read", link))
	if code != 3 || !strings.Contains(text, "not found: plug the adapter in") {
		t.Errorf("afterwards: ended with %d, want 3 and what to do:\n%s", code, text)
	}
}

// Ctrl-C in the middle of setup leaves nothing behind, not even half a file.
func TestSetupInterrupted(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cmd := exec.CommandContext(t.Context(), "steadyrail", "setup")
	cmd.Dir = dir
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	talk, err := cmd.StderrPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	read := until1(talk, "Name of the bench [bench]: ")
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	rest, _ := io.ReadAll(talk) // until it ends
	_ = cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != 3 || !strings.Contains(string(rest), "stopped; nothing was written") {
		t.Errorf("ended with %d:\n%s%s", code, read, rest)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

// until1 reads up to and with some words.
func until1(r io.Reader, words string) string {
	var b strings.Builder
	for one := make([]byte, 1); !strings.HasSuffix(b.String(), words); {
		if n, err := r.Read(one); n == 0 || err != nil {
			break
		}
		b.WriteByte(one[0])
	}
	return b.String()
}
