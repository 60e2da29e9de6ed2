package walk

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// filingOn is a walk under power whose only rail is touched, steady and placed.
func filingOn(t *testing.T, s Setup) (*Machine, capture.Instant) {
	t.Helper()
	s.Job, s.Volts, s.Live, s.Rails = "AB-0147", voltsOn, true, []capture.Rail{anyRail(0)}
	at := capture.Instant(1_000_000)
	m, _ := New(s, at)
	for range 20 {
		at += 200 * ms
		v := 0.0
		if m.state != lifting {
			v = m.rail().Nominal
		}
		for _, d := range m.Consume(reads(at, v)) {
			if d.Kind == Place {
				m.Placed(at + 1)
				return m, at + 1
			}
		}
	}
	t.Fatalf("never placed: %+v", m.View())
	return nil, 0
}

func reads(at capture.Instant, v float64) capture.Record {
	return capture.Record{At: at, Job: "AB-0147", Item: capture.Reading{Channel: voltsOn, Quantity: capture.DCVoltage, Value: v, Resolution: 1e-3, Measured: at - 20*ms, HalfWidth: 10 * time.Millisecond}}
}

// The probe is held until the rules are sure, but not for ever, and not where the
// pedal decides.
func TestHeldUntilTheRulesAreSure(t *testing.T) {
	for name, c := range map[string]struct {
		sureAt  int // which reading; 0: never
		forced  bool
		readsTo int // off with this one
	}{
		"sure at once":      {sureAt: 1, readsTo: 3},
		"sure at the ninth": {sureAt: 9, readsTo: 9},
		"never sure":        {readsTo: 11},
		"the pedal decides": {forced: true, readsTo: 3},
	} {
		m, at := filingOn(t, Setup{})
		m.forced = c.forced
		off := 0
		for n := 1; n <= 20 && off == 0; n++ {
			at += 200 * ms
			m.Unsure(c.sureAt == 0 || n < c.sureAt)
			for _, d := range m.Consume(reads(at, m.rail().Nominal)) {
				if d.Kind == Off {
					off = n
				}
			}
		}
		if off != c.readsTo {
			t.Errorf("%s: off with reading %d, want %d", name, off, c.readsTo)
		}
	}
}

// A reading that looked before the placement counts for no figure, as it does for
// no rule.
func TestStraddlingCountsForNothing(t *testing.T) {
	m, at := filingOn(t, Setup{ApertureVolts: 100 * time.Millisecond})
	m.Consume(reads(at+60*ms, m.rail().Nominal)) // looked from 20 ms before it was placed
	if m.filed.n != 0 {
		t.Errorf("%d counted", m.filed.n)
	}
	m.Consume(reads(at+81*ms, m.rail().Nominal))
	if m.filed.n != 1 {
		t.Errorf("%d counted", m.filed.n)
	}
}
