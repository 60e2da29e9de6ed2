package walk

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"

	"steadyrail/capture"
)

// trace is a walk as bytes: of each three the first says what happens, the second
// with what, the third how many hundredths of a second later.
type trace struct {
	t    *testing.T
	m    *Machine
	now  capture.Instant
	did  []string // all that was asked for
	on   Step     // placed for it; the zero step: not placed
	ends int
}

func walked(t *testing.T, b []byte) *trace {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0), anyRail(1)}}
	if len(b) > 0 {
		s.Live, s.Both = b[0]&1 != 0, b[0]&2 != 0
		if b[0]&4 != 0 {
			s.TopVolts, s.TopOhms = 20, 1e8
		}
		b = b[1:]
	}
	x := &trace{t: t, now: 1_000_000}
	m, do := New(s, x.now)
	x.m = m
	x.carry(do)
	for ; len(b) >= 3; b = b[3:] {
		x.now += 1 + capture.Instant(b[2])*10*ms
		x.carry(x.happens(b[0], b[1]))
		x.holds()
	}
	x.carry(m.Stop(x.now, "out of trace"))
	x.holds()
	if m.state != over || x.ends != 1 || x.on != (Step{}) {
		t.Fatalf("stopped in state %d, %d ends, still on %+v", m.state, x.ends, x.on)
	}
	return x
}

// happens feeds what a byte means.
func (x *trace) happens(what, with byte) []Do {
	m, job := x.m, "AB-0147"
	item := func(it capture.Item) []Do {
		return m.Consume(capture.Record{At: x.now, Job: job, Item: it})
	}
	switch what % 16 {
	case 0:
		return m.Press(x.now, Press(with%4))
	case 1:
		return item(capture.Act{Verb: capture.ActOutput, Text: []string{"on", "off"}[with%2]})
	case 2:
		return item(capture.Gap{})
	case 3:
		return item(capture.Placement{Channel: ohmsOn, Rail: []string{"", "rail 1"}[with%2]})
	case 4:
		return m.Refused(x.now, "no")
	case 5:
		m.Unsure(with%2 == 0)
		return nil
	case 6:
		job = "another"
	case 7, 8:
		return item(capture.Tick{})
	case 9:
		return item(x.reading(0, capture.Flags(1)<<(with%16)))
	}
	return item(x.reading(x.figure(with), 0))
}

// figure is a reading from open to absurd.
func (x *trace) figure(with byte) float64 {
	if with < 200 {
		return float64(with%20) / 19 * 6
	}
	return []float64{0, 1e-4, 0.04, -12, 4700, 4710, 1e300, -1e300, math.SmallestNonzeroFloat64}[int(with)%9]
}

func (x *trace) reading(v float64, f capture.Flags) capture.Reading {
	r := capture.Reading{Channel: x.m.channel(), Value: v, Resolution: 1e-3, Flags: f, Measured: x.now - 1}
	if v == 0 && x.m.step.Quantity == capture.Resistance && f == 0 {
		r.Flags = capture.OverRange // open leads
	}
	return r
}

// carry does what the application does, and holds each to its turn.
func (x *trace) carry(list []Do) {
	for _, d := range list {
		x.did = append(x.did, fmt.Sprintf("%+v", d))
		switch d.Kind {
		case Place:
			if x.on != (Step{}) || x.ends > 0 {
				x.t.Fatalf("placed for %+v while on %+v, %d ends", d.Step, x.on, x.ends)
			}
			if d.Step.Quantity == capture.Resistance && !x.m.proven(d.Step.Rail, x.now) {
				x.t.Fatalf("ohms of %s, which is not proved dead", d.Step.Rail)
			}
			x.on = d.Step
			x.now++
			x.m.Placed(x.now)
			x.carry(x.m.Consume(capture.Record{At: x.now, Job: "AB-0147", Item: capture.Placement{Channel: x.m.channel(), Rail: d.Step.Rail}}))
		case Off:
			if x.on != d.Step {
				x.t.Fatalf("off %+v while on %+v", d.Step, x.on)
			}
			x.on = Step{}
		case Withdraw:
			if x.on == d.Step {
				x.on = Step{}
			}
		case End:
			x.ends++
			if x.m.place == 0 {
				x.on = Step{} // somebody else has the meter
			}
		}
	}
}

// holds is what must be so whatever happened.
func (x *trace) holds() {
	v := x.m.View()
	if _, err := json.Marshal(v); err != nil {
		x.t.Fatal(err)
	}
	if v.Done > v.Of || v.Word == "" || x.m.state < done && v.Rail == "" {
		x.t.Fatalf("%+v", v)
	}
	for _, row := range v.Rows {
		for _, f := range []Figure{row.Volts, row.Ohms, row.Reversed} {
			if (f.Text != "") != (f.Place != 0) || f.Text != "" && f.Why != "" || f.AtLeast && f.Value < x.m.rail().ShortBelow {
				x.t.Fatalf("%s: %+v", row.Rail, f)
			}
		}
	}
}

// Whatever meters, people and supplies do, the meter stands on one rail at a time,
// never for ohms on a rail that is not proved dead, is off at the end, and the
// same trace is the same walk.
func FuzzTrace(f *testing.F) {
	touch := func(setup byte) []byte {
		b := []byte{setup}
		for range 3 {
			b = append(b, 15, 200, 40, 15, 200, 40)
			for range 10 {
				b = append(b, 15, 206, 20)
			}
		}
		return b
	}
	f.Add(touch(0))
	f.Add(touch(1))
	f.Add(append(touch(6), 0, 1, 10, 0, 2, 10, 0, 3, 10, 4, 0, 1, 2, 0, 1, 9, 3, 4, 1, 0, 1))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1500 {
			return
		}
		if one, two := walked(t, b), walked(t, b); !reflect.DeepEqual(one.did, two.did) {
			t.Fatalf("%q\n%q", one.did, two.did)
		}
	})
}
