package cli_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
	"steadyrail/drivers/wire"
)

// simports DIR starts a simulated bench on pseudo-terminals under names in a
// folder: DIR/dmm and so on. The dmm's probe hangs on TP5.
func simports(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: simports DIR")
	}
	dir := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(dir, 0o755))
	b := sim.NewBench(sim.NewClock(capture.InstantOf(time.Now()), 1), 7, sim.Scenario{Dir: dir})
	ts.Check(b.Start(context.Background()))
	ts.Defer(b.Close)
	ts.Check(b.Touch(sim.DMM, sim.Point5, capture.Clipped))
	h, err := sim.NewHandheld(b, sim.HandheldOptions{Form: sim.FormSegments})
	ts.Check(err)
	ts.Defer(h.Close)
	ts.Check(os.Symlink(strings.TrimPrefix(h.Link(), "serial:"), filepath.Join(dir, "segments")))
}

// farend VAR [LINE] starts a far end on TCP and puts its link into a variable.
// With a line it says that ten times a second; without it never says anything.
// What it is sent stands in the file VAR.
func farend(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 1 {
		ts.Fatalf("usage: farend VAR [LINE]")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ts.Check(err)
	got, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	var talking sync.WaitGroup
	talking.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			talking.Go(func() { _, _ = io.Copy(got, c) })
			for len(args) > 1 {
				if _, err := fmt.Fprintf(c, "%s\r\n", args[1]); err != nil {
					break
				}
				time.Sleep(100 * time.Millisecond) // the pace of a handheld
			}
			ts.Defer(func() { c.Close() })
		}
	})
	ts.Defer(func() { l.Close(); got.Close() })
	ts.Setenv(args[0], "tcp:"+l.Addr().String())
}

// answers FILE TEMPLATE writes answers for setup: a line @ports becomes an
// empty answer for each port that this computer happens to have.
func answers(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: answers FILE TEMPLATE")
	}
	list, err := wire.Ports()
	ts.Check(err)
	n := 0
	for _, p := range list {
		if p.Link != "" {
			n++
		}
	}
	text := strings.ReplaceAll(ts.ReadFile(args[1]), "@ports\n", strings.Repeat("\n", n))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}
