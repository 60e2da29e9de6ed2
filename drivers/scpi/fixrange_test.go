package scpi

import (
	"math"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

func ranged(o *Options) {
	c := &o.Plan.Channels[0]
	c.FixRange, c.AutoRange = "VOLT:DC:RANG {}", "VOLT:DC:RANG:AUTO ON"
	c.Ranges = []capture.Accuracy{{Range: 100, Resolution: 1e-3}, {Range: 1, Resolution: 1e-5}, {Range: 10, Resolution: 1e-4}}
}

const taken = "\n> SYST:ERR?\n< 0,\"No error\"\n"

// TestFixRange: it is set when the channel is selected, again after another was,
// and set free again.
func TestFixRange(t *testing.T) {
	ohms := "> CONF:RES AUTO" + taken
	d, p := played(t, hello+
		selectVolts+"> VOLT:DC:RANG 10"+taken+ // 5.5 V needs the 10 V range
		"> VOLT:DC:RANG 100"+taken+ // 12 V the next
		ohms+selectVolts+"> VOLT:DC:RANG 100"+taken+ // CONF let it go
		"> VOLT:DC:RANG:AUTO ON"+taken, ranged)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if err := d.FixRange(ctx, "unit/volts", 5.5); err != nil { // not selected yet: nothing is sent
		t.Fatal(err)
	}
	for _, step := range []func() error{
		func() error { return d.Select(ctx, "unit/volts") },
		func() error { return d.FixRange(ctx, "unit/volts", 12) },
		func() error { return d.FixRange(ctx, "unit/volts", 12) }, // it is: nothing is sent
		func() error { return d.Select(ctx, "unit/ohms") },
		func() error { return d.Select(ctx, "unit/volts") },
		func() error { return d.FixRange(ctx, "unit/volts", 0) },
	} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	used(t, p)
}

func TestFixRangeRefused(t *testing.T) {
	d, p := played(t, hello+selectVolts+`
		> VOLT:DC:RANG 10
		> SYST:ERR?
		< -222,"Data out of range"
		> SYST:ERR?
		< 0,"No error"
		> VOLT:DC:RANG 10`+taken, ranged)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	wants(t, d.FixRange(ctx, "unit/ohms", 5), ErrNotAllowed, "no fix_range phrase")
	wants(t, d.FixRange(ctx, "unit/volts", 101), ErrNotAllowed, "no range holds 101, the largest is 100")
	wants(t, d.FixRange(ctx, "unit/volts", -1), ErrNotAllowed, "range of -1")
	wants(t, d.FixRange(ctx, "unit/volts", math.NaN()), ErrNotAllowed, "range of NaN")
	wants(t, d.FixRange(ctx, "unit/nothing", 1), ErrNoChannel, "")
	if err := d.Select(ctx, "unit/volts"); err != nil {
		t.Fatal(err)
	}
	wants(t, d.FixRange(ctx, "unit/volts", 7), ErrRefused, "-222")
	if err := d.FixRange(ctx, "unit/volts", 7); err != nil { // it was not taken for done
		t.Fatal(err)
	}
	used(t, p)
}

// TestFixRangeAfterALoss: what was held is held again after a connection.
func TestFixRangeAfterALoss(t *testing.T) {
	d, p := played(t, hello+selectVolts+"> VOLT:DC:RANG 10"+taken+"> READ?\n! gone\n"+
		hello+selectVolts+"> VOLT:DC:RANG 10"+taken+"> READ?\n< 5.0120", ranged)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if err := d.Select(ctx, "unit/volts"); err != nil {
		t.Fatal(err)
	}
	if err := d.FixRange(ctx, "unit/volts", 5); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrGone, "")
	wants(t, d.FixRange(ctx, "unit/volts", 5), ErrNotConnected, "")
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Range != 10 {
		t.Fatalf("%+v, %v", r, err)
	}
	used(t, p)
}

// TestFixRangeWithoutSelecting: a channel that needs no selecting is set again
// after a connection and after a silence, too, whoever remembers it first.
func TestFixRangeWithoutSelecting(t *testing.T) {
	alone := func(o *Options) {
		ranged(o)
		o.Plan.Channels[0].Select = nil
	}
	ten := "> VOLT:DC:RANG 10" + taken
	d, p := played(t, hello+ten+"> READ?\n! gone\n"+
		hello+ten+"> READ?\n! timed out"+
		awake+ten+"> READ?\n< 5.0120", alone)
	ctx := t.Context()
	fix := func() {
		t.Helper()
		if err := d.FixRange(ctx, "unit/volts", 5); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	fix()
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrGone, "")
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	fix() // the poller asks again after each connection
	_, err = d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrTimeout, "")
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Range != 10 {
		t.Fatalf("%+v, %v", r, err)
	}
	used(t, p)
}
