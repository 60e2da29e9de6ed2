package scpi

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

const someone = "Simulated,Multimeter,00123457,1.0"

// plan is a meter with a shared input and a supply's output, for tests.
func plan() Plan {
	return Plan{
		SetUp: []string{"SYST:REM"},
		Channels: []Channel{
			{Name: "volts", Quantity: capture.DCVoltage, Group: "input", Select: []string{"CONF:VOLT:DC AUTO"}, Read: "READ?", Every: time.Second},
			{Name: "ohms", Quantity: capture.Resistance, Group: "input", Select: []string{"CONF:RES AUTO"}, Read: "READ?", Every: time.Second},
			{Name: "amperes", Quantity: capture.DCCurrent, Read: "MEAS:CURR?", Limiting: true, ReadBack: true, Every: time.Second},
		},
		Outputs: []Output{{
			Verb: capture.ActOutput, On: "OUTP ON", Off: "OUTP OFF", Ask: "OUTP?", Limiting: &Limiting{Ask: "STAT:QUES:COND?", Mask: 1},
			Limits: []Limit{
				{Name: "volts", Unit: capture.Volt, Set: "VOLT {}", Ask: "VOLT?", Step: 0.001, Max: 32},
				{Name: "over-voltage", Unit: capture.Volt, Set: "VOLT:PROT {}", Ask: "VOLT:PROT?", Step: 0.01, Max: 35},
			},
		}},
	}
}

func newDriver(t testing.TB, link wire.Link, change ...func(*Options)) *Driver {
	t.Helper()
	o := Options{
		Info: capture.InstrumentInfo{Name: "unit", Acts: []string{"output", "limits"}}, Plan: plan(),
		Dial: func(context.Context) (wire.Link, error) { return link, nil },
	}
	for _, c := range change {
		c(&o)
	}
	d, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// played makes a driver on a recording, given as rows without times.
func played(t *testing.T, rows string, change ...func(*Options)) (*Driver, *wire.Player) {
	t.Helper()
	var text strings.Builder
	text.WriteString("steadyrail wire recording 1\n")
	for _, row := range strings.Split(strings.TrimSpace(rows), "\n") {
		if row = strings.TrimSpace(row); row != "" {
			fmt.Fprintf(&text, "0.000000 %s\n", row)
		}
	}
	p, err := wire.NewPlayer(strings.NewReader(text.String()))
	if err != nil {
		t.Fatal(err)
	}
	return newDriver(t, p, change...), p
}

// hello is what every connection begins with.
const hello = `
	~
	> *IDN?
	< ` + someone + `
	> *CLS
	> SYST:REM
	> SYST:ERR?
	< 0,"No error"
`

// volts selects that channel.
const selectVolts = `
	> CONF:VOLT:DC AUTO
	> SYST:ERR?
	< 0,"No error"
`

// again is a resynchronisation with an empty queue.
const again = `
	~
	> *IDN?
	< ` + someone + `
	> SYST:ERR?
	< 0,"No error"
`

// awake is a resynchronisation after a silence: it may have been switched off
// and on, and is set up again.
var awake = strings.Replace(again, "> SYST:ERR?", "> SYST:REM\n> SYST:ERR?", 1)

func used(t *testing.T, p *wire.Player) {
	t.Helper()
	if err := p.Done(); err != nil {
		t.Error(err)
	}
}

func wants(t *testing.T, err, want error, says string) {
	t.Helper()
	if !errors.Is(err, want) || !strings.Contains(err.Error(), says) {
		t.Fatalf("got %v; want %v, saying %q", err, want, says)
	}
}
