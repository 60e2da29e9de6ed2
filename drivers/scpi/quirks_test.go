package scpi

import (
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

func odd(quirks ...string) func(*Options) {
	return func(o *Options) { o.Plan.Quirks, o.Plan.SetUp = quirks, nil }
}

// TestNoQueueNoClear: neither *CLS nor SYST:ERR? is sent; selecting is taken on
// trust, an act is still confirmed by reading back.
func TestNoQueueNoClear(t *testing.T) {
	d, p := played(t, `
		~
		> *IDN?
		< `+someone+`
		> CONF:VOLT:DC AUTO
		> READ?
		< 5.012
		> OUTP ON
		> OUTP?
		< 0`, odd(NoErrorQueue, NoClear))
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Value != 5.012 {
		t.Fatalf("%+v, %v", r, err)
	}
	_, err := d.Do(ctx, output("on"))
	wants(t, err, ErrRefused, "reads back as off")
	used(t, p)
}

func TestAnswersWithUnit(t *testing.T) {
	for _, c := range []struct {
		answer     string
		v          float64
		resolution float64
		flags      capture.Flags
		bad        bool
	}{
		{"5.012E+00 VDC", 5.012, 0.001, 0, false},
		{"-12.04V", -12.04, 0.01, 0, false},
		{"501.2 mV", 0.5012, 1e-4, 0, false},
		{"501.2mVDC", 0.5012, 1e-4, 0, false},
		{"+9.90000000E+37 VDC", 0, 0, capture.OverRange, false},
		{"9.9E37", 0, 0, capture.OverRange, false},
		{"NAN", 0, 0, capture.NotANumber, false},
		{"5.012 OHM", 0, 0, 0, true},   // the input stands on another function
		{"5.012 VAC", 0, 0, 0, true},   // the same
		{"5.012E+00", 0, 0, 0, true},   // the others have a unit
		{"5.0E-3 mV", 0, 0, 0, true},   // twice a thousandth?
		{"5 MV", 0, 0, 0, true},        // milli or mega
		{"5.012 VDC 1", 0, 0, 0, true}, // more than one number
		{"OVLD", 0, 0, 0, true},        // no word of SCPI-1999
		{someone, 0, 0, 0, true},       // an answer to something else
	} {
		d, _ := played(t, hello+selectVolts+"> READ?\n< "+c.answer, func(o *Options) { o.Plan.Quirks = []string{AnswersWithUnit} })
		if err := d.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		r, err := d.Measure(t.Context(), "unit/volts")
		if c.bad {
			wants(t, err, ErrMalformed, "want one number in V")
			continue
		}
		if err != nil || r.Value != c.v || r.Resolution != c.resolution || r.Flags != c.flags {
			t.Errorf("%q: %+v, %v", c.answer, r, err)
		}
	}
}

// TestWithoutUnitKeepsTheDigits: whatever prefix stands before the unit, the
// value is that of the number times the prefix.
func TestWithoutUnitKeepsTheDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := rapid.StringMatching(`[+-]?[0-9]{1,4}\.[0-9]{1,5}`).Draw(t, "digits")
		prefix := rapid.SampledFrom([]string{"", "m", "k", "u", "n"}).Draw(t, "prefix")
		text, ok := withoutUnit(digits+" "+prefix+"V", capture.DCVoltage, capture.Volt)
		if !ok || text != digits+prefixes[prefix] {
			t.Fatalf("%q, %v", text, ok)
		}
	})
}

func TestCommaList(t *testing.T) {
	d, p := played(t, hello+selectVolts+`
		> READ?
		< +5.0120E+00,+1.2E-3,0
		> READ?
		< ,5`+again, func(o *Options) { o.Plan.Quirks = []string{CommaList} })
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Value != 5.012 || r.Text != "+5.0120E+00" {
		t.Fatalf("%+v, %v", r, err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, ErrMalformed, "READ?")
	if err := d.Select(ctx, "unit/volts"); err != nil {
		t.Fatal(err)
	}
	used(t, p)
}

// TestOtherIdentity: instruments older than *IDN? say who they are in their own
// way, or not at all.
func TestOtherIdentity(t *testing.T) {
	pattern, err := IdentityPattern(`(?P<model>[A-Z]+[0-9]+) V(?P<firmware>[0-9.]+)`)
	if err != nil {
		t.Fatal(err)
	}
	asked := func(o *Options) {
		o.Plan.Identity = Identity{Ask: "ID?", Pattern: pattern}
		o.Plan.Quirks, o.Plan.SetUp = []string{NoErrorQueue, NoClear}, nil
		o.Expect = capture.Identity{Model: "MM40"}
	}
	d, p := played(t, "~\n> ID?\n< MM40 V2.1", asked)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if id := d.Info().Identity; id.Model != "MM40" || id.Firmware != "2.1" {
		t.Fatalf("%+v", id)
	}
	used(t, p)

	d, _ = played(t, "~\n> ID?\n< MM41 V2.1\n~\n> ID?\n< MM41 V2.1\n~\n> ID?\n< MM41 V2.1", asked)
	wants(t, d.Connect(t.Context()), ErrMismatch, "MM41")

	d, _ = played(t, "~\n> ID?\n< 5.012\n~\n> ID?\n< 5.012\n~\n> ID?\n< 5.012", asked)
	wants(t, d.Connect(t.Context()), ErrMalformed, "ID?")

	mute := func(o *Options) {
		o.Plan.Identity, o.Plan.Quirks, o.Plan.SetUp = Identity{None: true}, []string{NoErrorQueue, NoClear}, nil
	}
	d, p = played(t, "~\n> CONF:VOLT:DC AUTO\n> READ?\n< 5.012\n> READ?\n! timed out\n~\n> CONF:VOLT:DC AUTO\n> READ?\n< 5.013", mute)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Measure(t.Context(), "unit/volts"); err != nil {
		t.Fatal(err)
	}
	_, err = d.Measure(t.Context(), "unit/volts")
	wants(t, err, wire.ErrTimeout, "")
	if r, err := d.Measure(t.Context(), "unit/volts"); err != nil || r.Value != 5.013 {
		t.Fatalf("%+v, %v", r, err)
	}
	used(t, p)
}

// longExponent is one that no number of SCPI-1999 has.
var longExponent = regexp.MustCompile(`[Ee][+-]?[0-9]{3}`)

func FuzzWithoutUnit(f *testing.F) {
	for _, s := range []string{"5.012E+00 VDC", "501.2 mV", "9.9E37", "OVLD", "", "5 MV", ".V", "1.2.3 V", "1E70V", someone} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, answer string) {
		text, ok := withoutUnit(answer, capture.DCVoltage, capture.Volt)
		if !ok {
			return
		}
		// What SCPI-1999 has no number for may be refused, and what is longer than one.
		if len(text) >= 30 || longExponent.MatchString(text) {
			return
		}
		if _, _, _, err := capture.ParseResponse(text); err != nil && !strings.Contains(err.Error(), "beyond the numbers") {
			t.Fatalf("%q became %q: %v", answer, text, err)
		}
	})
}
