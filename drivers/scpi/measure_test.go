package scpi

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// TestAnswersToAMeasurement: the special numbers are those of SCPI-1999, volume
// 1, 7.2.1 (set 05 of the reference values); everything that is no number makes
// the next call resynchronise.
func TestAnswersToAMeasurement(t *testing.T) {
	for _, c := range []struct {
		answer string
		value  float64
		flags  capture.Flags
		err    error
	}{
		{"273", 273, 0, nil},                            // NR1
		{"-1.50", -1.5, 0, nil},                         // NR2
		{"+4.98748741E+00", 4.98748741, 0, nil},         // NR3
		{"9.9E37", 0, capture.OverRange, nil},           //
		{"+9.90000000E+37", 0, capture.OverRange, nil},  //
		{"-9.9E37", 0, capture.UnderRange, nil},         //
		{"9.91E37", 0, capture.NotANumber, nil},         //
		{"NAN", 0, capture.NotANumber, nil},             //
		{"", 0, 0, ErrMalformed},                        //
		{"+5.0x12", 0, 0, ErrMalformed},                 //
		{"5.012 V", 0, 0, ErrMalformed},                 //
		{"1.0,2.0", 0, 0, ErrMalformed},                 // two readings
		{someone, 0, 0, ErrMalformed},                   // an identity is never a value
		{`-113,"Undefined header"`, 0, 0, ErrMalformed}, // nor is an error
		{"1e99", 0, 0, ErrMalformed},                    // beyond SCPI's numbers
		{"0x10", 0, 0, ErrMalformed},                    //
		{"1_000", 0, 0, ErrMalformed},                   //
		{"Infinity and more text", 0, 0, ErrMalformed},  //
		{"+1.0 +2.0", 0, 0, ErrMalformed},               //
	} {
		t.Run(c.answer, func(t *testing.T) {
			rows := hello + selectVolts + "> READ?\n< " + c.answer
			if c.err != nil {
				rows += again + "> READ?\n< 1.0"
			}
			d, p := played(t, rows)
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			r, err := d.Measure(t.Context(), "unit/volts")
			if !errors.Is(err, c.err) || r.Value != c.value || r.Flags != c.flags {
				t.Fatalf("got %+v, %v", r, err)
			}
			if c.err != nil {
				wants(t, err, c.err, "malformed answer to READ?")
				if r, err := d.Measure(t.Context(), "unit/volts"); err != nil || r.Value != 1 {
					t.Fatalf("after it: %+v, %v", r, err)
				}
				if d.Resyncs() != 1 {
					t.Fatalf("%d resyncs", d.Resyncs())
				}
			}
			used(t, p)
		})
	}
}

// TestRefusal: an instrument that does not understand stays silent and has the
// reason in its queue. The time-out is told first, then the reason; then it is
// measured again.
func TestRefusal(t *testing.T) {
	d, p := played(t, hello+selectVolts+`
		> READ?
		! timed out
		~
		> *IDN?
		< `+someone+`
		> SYST:REM
		> SYST:ERR?
		< -230,"Data corrupt or stale"
		> SYST:ERR?
		< 0,"No error"`+selectVolts+`
		> READ?
		< 5.0`)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrTimeout, "unit: measure volts")
	_, err = d.Measure(ctx, "unit/volts")
	wants(t, err, ErrRefused, "-230 Data corrupt or stale")
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Value != 5 {
		t.Fatalf("%+v, %v", r, err)
	}
	used(t, p)
}

// TestSwitchedOffAndOn: whoever was silent may have lost its settings, while its
// adapter kept the port. READ? alone would read whatever it wakes up in under
// the name of what was selected before.
func TestSwitchedOffAndOn(t *testing.T) {
	ohms := "\n> CONF:RES AUTO\n> SYST:ERR?\n< 0,\"No error\"\n"
	d, p := played(t, hello+ohms+"> READ?\n! timed out\n~\n> *IDN?\n! garbled"+awake+ohms+"> READ?\n< 47.0\n> READ?\n< oops"+again+"> READ?\n< 47.1")
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if err := d.Select(ctx, "unit/ohms"); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/ohms")
	wants(t, err, wire.ErrTimeout, "")
	if r, err := d.Measure(ctx, "unit/ohms"); err != nil || r.Value != 47 {
		t.Fatalf("%+v, %v", r, err)
	}
	_, err = d.Measure(ctx, "unit/ohms") // it spoke, so it kept its settings
	wants(t, err, ErrMalformed, "")
	if r, err := d.Measure(ctx, "unit/ohms"); err != nil || r.Value != 47.1 {
		t.Fatalf("%+v, %v", r, err)
	}
	used(t, p)
}

// TestSomebodyElseAfterATimeOut: the cable was moved while nothing answered.
func TestSomebodyElseAfterATimeOut(t *testing.T) {
	other := "\n~\n> *IDN?\n< Simulated,Multimeter,00123458,1.0\n"
	d, p := played(t, hello+selectVolts+"> READ?\n! timed out"+other+other)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrTimeout, "")
	for range 2 { // it stays in doubt
		_, err = d.Measure(ctx, "unit/volts")
		wants(t, err, ErrMismatch, "00123458")
	}
	used(t, p)
}

func TestSelect(t *testing.T) {
	ohms := "> CONF:RES AUTO\n> SYST:ERR?\n< 0,\"No error\"\n"
	d, p := played(t, hello+selectVolts+"> READ?\n< 1\n"+ohms+"> READ?\n< 2")
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	for range 3 { // configured once
		if err := d.Select(ctx, "unit/volts"); err != nil {
			t.Fatal(err)
		}
	}
	if r, err := d.Measure(ctx, "unit/volts"); err != nil || r.Value != 1 || r.Quantity != capture.DCVoltage {
		t.Fatalf("%+v, %v", r, err)
	}
	_, err := d.Measure(ctx, "unit/ohms")
	wants(t, err, ErrNoChannel, "the input is set to volts")
	if err := d.Select(ctx, "unit/ohms"); err != nil {
		t.Fatal(err)
	}
	if r, err := d.Measure(ctx, "unit/ohms"); err != nil || r.Value != 2 || r.Quantity != capture.Resistance {
		t.Fatalf("%+v, %v", r, err)
	}
	for _, id := range []capture.ChannelID{"unit/farads", "other/volts", "volts", ""} {
		_, err := d.Measure(ctx, id)
		wants(t, err, ErrNoChannel, string(id))
	}
	used(t, p)
}

// TestRefusedSelect: what was not taken is not selected.
func TestRefusedSelect(t *testing.T) {
	d, p := played(t, hello+`
		> CONF:VOLT:DC AUTO
		> SYST:ERR?
		< -221,"Settings conflict"
		> SYST:ERR?
		< 0,"No error"`+selectVolts)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	wants(t, d.Select(ctx, "unit/volts"), ErrRefused, "-221 Settings conflict")
	if err := d.Select(ctx, "unit/volts"); err != nil {
		t.Fatal(err)
	}
	used(t, p)
}

func TestLimiting(t *testing.T) {
	d, p := played(t, hello+`
		> MEAS:CURR?
		< 0.500
		> STAT:QUES:COND?
		< 1
		> MEAS:CURR?
		< 0.412
		> STAT:QUES:COND?
		< +2
		> MEAS:CURR?
		< 0.412
		> STAT:QUES:COND?
		< 1.5`)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	for _, want := range []capture.Flags{capture.Limiting, 0} {
		if r, err := d.Measure(ctx, "unit/amperes"); err != nil || r.Flags != want || !r.Good() {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	_, err := d.Measure(ctx, "unit/amperes")
	wants(t, err, ErrMalformed, "0 to 65535")
	used(t, p)
}

func TestGoneWhileMeasuring(t *testing.T) {
	d, p := played(t, hello+selectVolts+"> READ?\n! gone")
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrGone, "")
	_, err = d.Measure(ctx, "unit/volts")
	wants(t, err, ErrNotConnected, "")
	used(t, p)
}

// slowLink is an instrument that answers in order but late: any number of
// answers may be on their way at any time. The answer to the nth READ? is n.
type slowLink struct {
	t       *rapid.T
	asked   int
	coming  []string // not here yet
	here    []string
	inDoubt bool
}

func (l *slowLink) arrive() {
	n := rapid.IntRange(0, len(l.coming)).Draw(l.t, "arrived")
	l.here = append(l.here, l.coming[:n]...)
	l.coming = l.coming[n:]
}

func (l *slowLink) Query(_ context.Context, request string) (string, error) {
	if l.inDoubt || len(l.here) > 0 {
		l.inDoubt = true
		return "", wire.ErrInDoubt
	}
	switch request {
	case "*IDN?":
		l.coming = append(l.coming, someone)
	case "SYST:ERR?":
		l.coming = append(l.coming, `0,"No error"`)
	case "READ?":
		l.asked++
		l.coming = append(l.coming, fmt.Sprint(l.asked))
	}
	l.arrive()
	if len(l.here) == 0 {
		l.inDoubt = true
		return "", wire.ErrTimeout
	}
	answer := l.here[0]
	l.here = l.here[1:]
	return answer, nil
}

func (l *slowLink) Exchange(context.Context, []byte, wire.Split) ([]byte, error) {
	panic("lines only")
}
func (l *slowLink) Send(context.Context, string) error { return nil }

func (l *slowLink) Drain(context.Context) error {
	l.arrive()
	l.here, l.inDoubt = nil, false
	return nil
}

func (l *slowLink) Close() error { return nil }

// TestNoAnswerOfAnotherQuery: however late answers come, a reading that is
// handed out is the answer to its own query.
func TestNoAnswerOfAnotherQuery(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		link := &slowLink{t: rt}
		d := newDriver(t, link)
		ctx := context.Background()
		for range rapid.IntRange(1, 40).Draw(rt, "calls") {
			if d.Link() == nil {
				_ = d.Connect(ctx)
				continue
			}
			r, err := d.Measure(ctx, "unit/volts")
			if err == nil && r.Value != float64(link.asked) {
				rt.Fatalf("reading %v is the answer to another query than %d", r.Value, link.asked)
			}
		}
	})
}
