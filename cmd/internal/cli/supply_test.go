package cli_test

import (
	"fmt"
	"os"

	"github.com/rogpeppe/go-internal/testscript"

	"steadyrail/drivers/sim"
)

// simsupply FILE is simbench with the bench supply, which may be switched and
// set. The short in +5 V logic is still in.
func simsupply(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: simsupply FILE")
	}
	b, text, err := newSupplyBench()
	ts.Check(err)
	ts.Defer(b.Close)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

// newSupplyBench is newBench with the supply.
func newSupplyBench() (*sim.Bench, string, error) {
	b, text, err := newBench("./bench")
	if err != nil {
		return nil, "", err
	}
	text += fmt.Sprintf("  - {name: %s, model: scpi-supply, link: %q, every: 500 ms, acts: [output, limits], on_exit: leave}\n", sim.Supply, b.Links()[sim.Supply]+"?answer=5s")
	text += "rules:\n  - {kind: collapse, rail: +12 V, trip: supply}\n"
	return b, text, nil
}
