package cli_test

import (
	"os"
	"sync"

	"github.com/rogpeppe/go-internal/testscript"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// probed are the benches of the scripts whose probe is moved, by the file of the
// configuration.
var probed sync.Map

// simprobe FILE starts a bench whose first meter hangs in the air. simprobe FILE
// touch POINT and simprobe FILE lift move its probe by hand.
func simprobe(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) == 0 {
		ts.Fatalf("usage: simprobe FILE [touch POINT | lift]")
	}
	file := ts.MkAbs(args[0])
	if len(args) == 1 {
		b, text, err := newBench("./bench")
		ts.Check(err)
		ts.Defer(b.Close)
		ts.Check(b.Lift(sim.DMM))
		probed.Store(file, b)
		ts.Check(os.WriteFile(file, []byte(text), 0o600))
		return
	}
	got, ok := probed.Load(file)
	if !ok {
		ts.Fatalf("there is no bench at %s", args[0])
	}
	b := got.(*sim.Bench)
	if args[1] == "lift" {
		ts.Check(b.Lift(sim.DMM))
		return
	}
	ts.Check(b.Touch(sim.DMM, args[2], capture.Touched))
}
