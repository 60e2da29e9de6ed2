package scpi

import (
	"context"
	"errors"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

func TestConnect(t *testing.T) {
	for _, c := range []struct {
		name, rows string
		expect     capture.Identity
		err        error
		says       string
	}{
		{"plain", hello, capture.Identity{}, nil, ""},
		{"expected", hello, capture.Identity{Serial: "00123457"}, nil, ""},
		{"leading zeros count", `
			~
			> *IDN?
			< Simulated,Multimeter,123457,1.0`, capture.Identity{Serial: "00123457"}, ErrMismatch, "serial number 123457 is there, serial number 00123457 was expected"},
		{"another model", `
			~
			> *IDN?
			< ` + someone, capture.Identity{Model: "Supply"}, ErrMismatch, "Multimeter"},
		{"a late reading before the identity", `
			~
			> *IDN?
			< +5.012E+00
			~
			> *IDN?
			< ` + someone + `
			> *CLS
			> SYST:REM
			> SYST:ERR?
			< 0,"No error"`, capture.Identity{}, nil, ""},
		{"no identity at all", `
			~
			> *IDN?
			< a,b,c
			~
			> *IDN?
			< a,b,c,d,e
			~
			> *IDN?
			< `, capture.Identity{}, ErrMalformed, `*IDN?: "": want maker`},
		{"silent", `
			~
			> *IDN?
			! timed out
			~
			> *IDN?
			! timed out
			~
			> *IDN?
			! timed out`, capture.Identity{}, wire.ErrTimeout, ""},
		{"gone at once", `
			~
			> *IDN?
			! gone`, capture.Identity{}, wire.ErrGone, ""},
		{"set-up refused, each error told", strings.Replace(hello, `< 0,"No error"`, `< -113,"Undefined header;SYST:REM"
			> SYST:ERR?
			< -222,"Data out of range"
			> SYST:ERR?
			< +0,"No error"`, 1), capture.Identity{}, ErrRefused, "-113 Undefined header;SYST:REM; -222 Data out of range"},
		{"an error queue that does not answer properly", strings.Replace(hello, `< 0,"No error"`, "< +5.012E+00", 1), capture.Identity{}, ErrMalformed, "SYST:ERR?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, c.rows, func(o *Options) { o.Expect = c.expect })
			err := d.Connect(t.Context())
			if c.err != nil {
				wants(t, err, c.err, c.says)
			} else if err != nil {
				t.Fatal(err)
			}
			used(t, p)
			if c.err == nil && d.Info().Identity.Serial != "00123457" {
				t.Errorf("identity %v", d.Info().Identity)
			}
		})
	}
}

// TestQueueThatDoesNotEnd: the bench is not held up by it.
func TestQueueThatDoesNotEnd(t *testing.T) {
	d, p := played(t, strings.Replace(hello, "> SYST:ERR?\n\t< 0,\"No error\"", strings.Repeat("> SYST:ERR?\n< -350,\"Queue overflow\"\n", queueLength), 1))
	wants(t, d.Connect(t.Context()), ErrRefused, "does not end")
	used(t, p)
}

// TestSomebodyElseAfterALoss: without an expectation whoever answered first is
// expected from then on.
func TestSomebodyElseAfterALoss(t *testing.T) {
	rows := hello + `
		~
		> *IDN?
		< Simulated,Multimeter,00123458,1.0`
	d, p := played(t, rows)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	wants(t, d.Connect(t.Context()), ErrMismatch, "00123458 is there, it was Simulated Multimeter, serial number 00123457 before")
	used(t, p)
	if _, err := d.Measure(t.Context(), "unit/volts"); !errors.Is(err, ErrNotConnected) {
		t.Fatalf("measured on somebody else: %v", err)
	}
}

func TestDialFails(t *testing.T) {
	d := newDriver(t, nil, func(o *Options) {
		o.Dial = func(context.Context) (wire.Link, error) { return nil, wire.ErrBusy }
	})
	wants(t, d.Connect(t.Context()), wire.ErrBusy, "unit: connect")
}

// TestParseIdentity: what IEEE 488.2, 10.14 allows, and nothing else.
func TestParseIdentity(t *testing.T) {
	got, err := ParseIdentity(" Simulated , Meter ,0, 1.0 ")
	if want := (capture.Identity{Maker: "Simulated", Model: "Meter", Serial: "0", Firmware: "1.0", Source: "idn"}); err != nil || got != want {
		t.Fatalf("%+v, %v", got, err)
	}
	for _, bad := range []string{"", "1.0", "a,b,c", "a,b,c,d,e", ",,,", ",b,c,d", strings.Repeat("x", 500)} {
		if _, err := ParseIdentity(bad); !errors.Is(err, ErrMalformed) || len(err.Error()) > 250 {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func FuzzAnswers(f *testing.F) {
	for _, s := range []string{someone, `-113,"Undefined header"`, "+0", "1", "ON", "9.9E37", "", ","} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		id, err := ParseIdentity(s)
		if err == nil && (id.Maker == "" || strings.ContainsAny(id.Serial, ",")) {
			t.Fatalf("%q: %+v", s, id)
		}
		code, text, ok := parseError(s)
		if ok && (code < -32767 || code > 32767 || len(text) > len(s)) {
			t.Fatalf("%q: %d %q", s, code, text)
		}
		if is, ok := switchState(s); ok != (is == "on" || is == "off") {
			t.Fatalf("%q: %q", s, is)
		}
		if _, _, _, numeric := capture.ParseResponse(s); numeric == nil && err == nil {
			t.Fatalf("%q is an identity and a number", s)
		}
	})
}
