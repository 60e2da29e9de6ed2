package cli_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/cli"
	"steadyrail/drivers/sim"
)

// TestMain lets this binary be the program: scripts and tests start it as
// "steadyrail", in a process of its own.
func TestMain(m *testing.M) {
	// These tests wait for other processes more than they compute.
	if err := flag.Set("test.parallel", "8"); err != nil {
		panic(err)
	}
	testscript.Main(m, map[string]func(){
		"steadyrail": func() { os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// patience bounds every waiting; only what hangs reaches it.
const patience = 40 * time.Second

// The command line as scripts that can be read aloud; see the README there.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("..", "..", "..", "testdata", "scripts"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			configs, err := filepath.Abs(filepath.Join("..", "..", "..", "testdata", "configs"))
			e.Setenv("CONFIGS", configs)
			e.Setenv("EXAMPLES", filepath.Join(configs, "..", "..", "configs"))
			e.Setenv("NO_COLOR", "1")
			e.Setenv("TZ", "UTC")
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"simbench": simbench, "until": until, "daemon": awaitDaemon, "exits": exits, "damage": damage,
			"dot": dot, "simhand": simhand, "simprobe": simprobe, "simsupply": simsupply, "simports": simports, "farend": farend, "answers": answers,
		},
	})
}

// simbench FILE starts a simulated bench whose probes hang on the board, and
// writes a configuration for it. The bench ends with the script.
func simbench(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: simbench FILE")
	}
	b, text, err := newBench("./bench")
	ts.Check(err)
	ts.Defer(b.Close)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

// hands are the handhelds of the scripts, by the file of the configuration.
var hands sync.Map

// simhand FILE is simbench with a handheld that has no identity. simhand FILE
// touch POINT and simhand FILE lift move its probe; unplug and plug its cable.
func simhand(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) == 0 {
		ts.Fatalf("usage: simhand FILE [touch POINT | lift | unplug | plug]")
	}
	file := ts.MkAbs(args[0])
	if len(args) > 1 {
		got, ok := hands.Load(file)
		if !ok {
			ts.Fatalf("there is no handheld at %s", args[0])
		}
		switch h := got.(*sim.Handheld); {
		case args[1] == "lift":
			h.Lift()
		case args[1] == "unplug":
			h.Unplug()
		case args[1] == "plug":
			ts.Check(h.Plug())
		default:
			ts.Check(h.Touch(args[2], capture.Clipped))
		}
		return
	}
	b, text, err := newBench("./bench")
	ts.Check(err)
	ts.Defer(b.Close)
	h, err := sim.NewHandheld(b, sim.HandheldOptions{Form: sim.FormLines, TCP: true})
	ts.Check(err)
	ts.Defer(h.Close)
	hands.Store(file, h)
	text += fmt.Sprintf("  - {name: hand, model: stream-ascii, link: %q}\n", h.Link())
	ts.Check(os.WriteFile(file, []byte(text), 0o600))
}

// newBench starts a simulated bench over TCP, in real time, and returns the
// configuration that fits it.
func newBench(workspace string) (*sim.Bench, string, error) {
	b := sim.NewBench(sim.NewClock(capture.InstantOf(time.Now()), 1), 7, sim.Scenario{TCP: true})
	if err := b.Start(context.Background()); err != nil {
		return nil, "", err
	}
	for meter, point := range map[string]string{sim.DMM: sim.Point5, sim.DMM2: sim.Point12} {
		if err := b.Touch(meter, point, capture.Clipped); err != nil {
			b.Close()
			return nil, "", err
		}
	}
	links := b.Links()
	text := fmt.Sprintf("bench: east\nworkspace: %s\nlisten: 127.0.0.1:0\nlog_level: warn\ninstruments:\n", workspace)
	for _, meter := range []string{sim.DMM, sim.DMM2} {
		text += fmt.Sprintf("  - {name: %s, model: scpi-multimeter, link: %q, every: 100 ms}\n", meter, links[meter])
	}
	return b, text, nil
}

// until PATTERN COMMAND... runs a command again and again until it succeeds
// and its output matches.
func until(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: until PATTERN COMMAND...")
	}
	want := regexp.MustCompile(args[0])
	for end := time.Now().Add(patience); ; {
		err := ts.Exec(args[1], args[2:]...)
		out := ts.ReadFile("stdout")
		if err == nil && want.MatchString(out) {
			return
		}
		if time.Now().After(end) {
			ts.Fatalf("%s: %v; it never matched %q", args[1:], err, args[0])
		}
		time.Sleep(50 * time.Millisecond) // another process has no channel to wait on
	}
}

// daemon DIR waits until a daemon holds the workspace and listens;
// ! daemon DIR until none does.
func awaitDaemon(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: daemon DIR")
	}
	if err := await(ts.MkAbs(args[0]), !neg); err != nil {
		ts.Fatalf("%v", err)
	}
}

func await(dir string, there bool) error {
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		h, err := store.ReadLock(dir)
		if there == (err == nil && h.Address != "") {
			return nil
		}
		if time.Now().After(end) {
			return fmt.Errorf("a daemon on %s: %+v, %v; want one: %t", dir, h, err, there)
		}
	}
}

// exits CODE COMMAND... runs a command that must end with exactly that code.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND...")
	}
	code := "0"
	err := ts.Exec(args[1], args[2:]...)
	if err != nil {
		code = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if code != args[0] {
		ts.Fatalf("%s ended with %s, want %s", args[1:], code, args[0])
	}
}

// damage FILE changes bytes in the middle of a file, as a bad disk does.
func damage(ts *testscript.TestScript, _ bool, args []string) {
	path := ts.MkAbs(args[0])
	b, err := os.ReadFile(path)
	ts.Check(err)
	i := bytes.LastIndex(b, []byte(args[1]))
	if i < 0 {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	b[i] ^= 1
	ts.Check(os.WriteFile(path, b, 0o600))
}

// program runs the program in a process of its own and returns its exit code
// and what it wrote.
func program(t testing.TB, dir string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, "steadyrail", args...)
	var out, errs bytes.Buffer
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &errs
	cmd.Env = append(os.Environ(), "NO_COLOR=1")
	if err := cmd.Run(); err != nil && cmd.ProcessState == nil {
		t.Fatalf("steadyrail %s: %v", args, err)
	}
	return cmd.ProcessState.ExitCode(), out.String(), errs.String()
}

// slow skips what takes long where that is asked for.
func slow(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("takes long")
	}
	if runtime.GOOS == "windows" {
		t.Skip("SKIPPED: processes are stopped by signals here")
	}
}
