package sim

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// A bench that is left, and laid out again from what was kept, reads what it read:
// the supply as it was set, the trimmer where it was, the case as warm as it is by
// now.
func TestABenchGoesOnAsItStood(t *testing.T) {
	clock := &handClock{now: 1e12}
	lay := func(blade func(*Bench, time.Duration)) *Bench {
		b := NewBench(clock, 88, Scenario{})
		for _, err := range []error{b.Unplug(PS2), b.Plug(StandIn)} {
			if err != nil {
				t.Fatal(err)
			}
		}
		for _, turns := range []float64{5, -0.5} { // the slack remembers the way
			blade(b, b.Turn(turns))
		}
		return b
	}
	b := lay(func(b *Bench, wait time.Duration) {
		clock.now = clock.now.Add(wait + time.Second)
		b.Standing()
	})
	var told []Standing
	b.Watch(func(s Standing) { told = append(told, s) })
	for _, line := range []string{"VOLT 24", "CURR 1.5", "VOLT:PROT 26", "CURR:PROT 2.25", "OUTP 1", "OUTP?"} {
		b.panel.exec(line, nil)
	}
	want := Panel{Volts: 24, Amps: 1.5, OverVolts: 26, OverAmps: 2.25, VoltsGuard: true, AmpsGuard: true, On: true}
	if n := len(told); n != 5 || told[n-1].Panel != want {
		t.Fatalf("told %d times, last %+v", n, told)
	}
	clock.now = clock.now.Add(20 * time.Minute)
	left := b.Standing()
	if left.Panel != want || left.Warmth.Quick < 5 || left.Warmth.Slow < 3 {
		t.Fatalf("%+v", left)
	}
	again := lay(func(b *Bench, _ time.Duration) { b.LiftBlade() })
	again.SetPanel(left.Panel)
	clock.now = clock.now.Add(5 * time.Second)
	again.SetWarmth(left.Warmth, 5*time.Second)
	clock.now = clock.now.Add(time.Second)
	for name, within := range map[string]float64{"trimmer": 1e-9, Point5: 0.02, PointCase: 0.5, "supply volts": 0.05} {
		before, err := b.Truth(name)
		if err != nil {
			t.Fatal(err)
		}
		if after, _ := again.Truth(name); !(math.Abs(after-before) <= within) {
			t.Errorf("%s: %v before, %v after", name, before, after)
		}
	}
	again.SetWarmth(left.Warmth, 48*time.Hour)
	if s := again.Standing().Warmth; math.Abs(s.Slow/slowPerWatt-s.Quick/quickPerWatt) > 0.01 {
		t.Errorf("after two days under power it is still warming: %+v", s)
	}
}

// A protection that trips by itself is told, too, and a tripped supply stays off.
func TestATripIsTold(t *testing.T) {
	clock := &handClock{now: 1e12}
	b := NewBench(clock, 88, Scenario{})
	for _, line := range []string{"VOLT 24", "CURR 1.5", "CURR:PROT 0.05", "OUTP 1"} {
		b.panel.exec(line, nil)
	}
	var told []Standing
	b.Watch(func(s Standing) { told = append(told, s) })
	clock.now = clock.now.Add(5 * time.Second)
	b.Standing()
	if len(told) != 1 || !told[0].Panel.AmpsTrip || told[0].Panel.On {
		t.Fatalf("%+v", told)
	}
	again := NewBench(clock, 88, Scenario{})
	p := told[0].Panel
	p.On, p.Volts = true, math.NaN() // from a file that somebody wrote
	again.SetPanel(p)
	if got := again.Standing().Panel; got.On || !got.AmpsTrip || got.Volts != 0 {
		t.Errorf("%+v", got)
	}
	if !again.ClearTrips() || again.ClearTrips() || again.Standing().Panel.AmpsTrip {
		t.Error("the key at the supply does not clear it")
	}
}

func TestLater(t *testing.T) {
	for _, c := range []struct {
		fault string
		args  string
		left  string
		still bool
	}{
		{"input joint", "1.8s", "", false},
		{"input joint", "30s 40", "20s 40", true},
		{"short +5 V", "0.5", "0.5", true},
		{"load step", "2 10s", "", false},
		{"room", "31", "31", true},
		{"link down", "dmm", "dmm", true},
		{"garble", "dmm 3", "", false},
		{"late", "dmm 1s", "", false},
		{"clear", "", "", true},
		{"none such", "", "", false},
	} {
		left, still := Later(c.fault, strings.Fields(c.args), 10*time.Second)
		if still != c.still || still && !reflect.DeepEqual(strings.Fields(c.left), append([]string{}, left...)) {
			t.Errorf("%s %s: %q, %t", c.fault, c.args, left, still)
		}
	}
}

// handClock stands until somebody moves it.
type handClock struct{ now capture.Instant }

func (c *handClock) Now() capture.Instant { return c.now }
func (c *handClock) After(time.Duration) (<-chan time.Time, func()) {
	ch := make(chan time.Time, 1)
	ch <- time.Time{}
	return ch, func() {}
}
