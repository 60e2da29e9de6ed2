package drivers

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// paired is a simulated RS-485 pair with its three units, all on one connection.
type paired struct {
	bench *sim.Bench
	pair  *sim.Pair
	links *Links
	t     *testing.T
}

func newPair(t *testing.T, tcp bool) paired {
	t.Helper()
	b := sim.NewBench(sim.NewClock(capture.Instant(1_700_000_000_000_000), 20), 1, sim.Scenario{TCP: tcp})
	pair, err := b.NewPair(1, tcp)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(pair.Close)
	return paired{bench: b, pair: pair, links: &Links{}, t: t}
}

// unit opens a unit with the shipped model; options go behind the address.
func (p paired) unit(name string, unit int, options string) Instrument {
	p.t.Helper()
	if options == "" {
		options = "&answer=2s" // patience costs nothing where nobody is mute
	}
	cfg := Config{Name: name, Model: "modbus-meter", Link: fmt.Sprintf("%s?address=%d%s", p.pair.Link(), unit, options)}
	if unit == sim.UnitSupply {
		cfg.Model, cfg.Acts, cfg.OnExit = "modbus-supply", []string{"output", "limits"}, ExitOff
	}
	in, err := p.links.Open(cfg, shipped(p.t))
	if err != nil {
		p.t.Fatal(err)
	}
	if err := in.Connect(p.t.Context()); err != nil {
		p.t.Fatal(err)
	}
	p.t.Cleanup(func() { _ = in.Close() })
	return in
}

func (p paired) fault(unit byte, name string, times int) {
	p.t.Helper()
	if err := p.pair.Fault(unit, name, times, 700*time.Millisecond); err != nil {
		p.t.Fatal(err)
	}
}

// bothFramings runs a test on a pseudo-terminal and through a network port.
func bothFramings(t *testing.T, test func(t *testing.T, p paired)) {
	for name, tcp := range map[string]bool{"rtu": false, "tcp": true} {
		t.Run(name, func(t *testing.T) { test(t, newPair(t, tcp)) })
	}
}

// TestPair: three units at one place, each under its own address and identity,
// read against what the model really is.
func TestPair(t *testing.T) {
	bothFramings(t, func(t *testing.T, p paired) {
		psu := p.unit("psu", sim.UnitSupply, "")
		meter := p.unit("m5", sim.UnitMeter5, "")
		other := p.unit("m12", sim.UnitMeter12, "")
		for in, want := range map[Instrument]string{
			psu: "SIM-MPSU, serial number 240021", meter: "SIM-MVM, serial number 00310005", other: "SIM-MVM, serial number 00310012",
		} {
			if got := in.Info().Identity.String(); got != want {
				t.Errorf("%s: %s, want %s", in.Info().Name, got, want)
			}
		}
		for _, q := range p.pair.Heard() {
			if q[1] > 4 {
				t.Errorf("connecting sent % x", q)
			}
		}
		do := func(verb capture.Verb, text, want string) {
			t.Helper()
			said, err := psu.Do(t.Context(), capture.Act{Verb: verb, Text: text})
			if err != nil || said != want {
				t.Errorf("%s: %q, %v", text, said, err)
			}
		}
		do(capture.ActLimits, "volts 24, amperes 0.8, over-voltage 26", "volts 24.000 V, amperes 0.800 A, over-voltage 26.00 V (always on), read back")
		do(capture.ActOutput, "on", "output on, read back")
		eventually(t, "24 V at the terminals", func() bool {
			r := measure(t, psu, "volts")
			return r.Good() && r.Value > 23.5 && r.Value < 24.5
		})
		eventually(t, "the panel meter shows what is there", func() bool {
			truth, err := p.bench.Truth(sim.Point12)
			if err != nil {
				t.Fatal(err)
			}
			r := measure(t, other, "volts")
			return r.Good() && r.Value-truth < 0.05 && truth-r.Value < 0.05 && truth > 5
		})
		if r := measure(t, meter, "inside"); !r.Good() || r.Value < 10 || r.Value > 60 || r.Resolution != 0.1 {
			t.Errorf("inside: %+v", r)
		}
		do(capture.ActOutput, "off", "output off, read back")
		if r, err := psu.Do(t.Context(), capture.Act{Verb: capture.ActLimits, Text: "volts 33"}); !errors.Is(err, ErrNotAllowed) {
			t.Errorf("33 V: %q, %v", r, err)
		}
	})
}

// TestPairFaults: what a user sees of each fault, and that the next reading but
// one is good again.
func TestPairFaults(t *testing.T) {
	for _, c := range []struct {
		fault string
		err   error // on a serial line; nil: nothing is seen
		onTCP error
		says  string
	}{
		{"mute", ErrTimeout, ErrTimeout, "timed out"},
		{"late", ErrTimeout, ErrTimeout, "timed out"},
		{"sum", ErrGarbled, nil, "check sum"},
		{"busy", ErrRefused, ErrRefused, "server device busy"},
		{"illegal", ErrRefused, ErrRefused, "illegal data address"},
		{"echo", nil, nil, ""},
		{"noise", nil, nil, ""},
		{"other unit", ErrGarbled, ErrMalformed, "unit 3 answered"},
		{"transaction", nil, ErrTimeout, "came, not to"},
		{"count", ErrMalformed, ErrMalformed, "want 6 bytes"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			bothFramings(t, func(t *testing.T, p paired) {
				options := ""
				if c.onTCP == ErrTimeout || c.err == ErrTimeout {
					options = "&answer=300ms"
				}
				in := p.unit("m5", sim.UnitMeter5, options)
				want, says := c.err, c.says
				if p.bench != nil && strings.HasPrefix(p.pair.Link(), "tcp:") {
					want = c.onTCP
					if c.fault == "other unit" {
						says = "an answer of unit 2"
					}
				}
				p.fault(sim.UnitMeter5, c.fault, 1)
				_, err := in.Measure(t.Context(), "m5/volts")
				if !errors.Is(err, want) || want != nil && !strings.Contains(err.Error(), says) {
					t.Fatalf("%v, want %v", err, want)
				}
				eventually(t, "a good reading again", func() bool {
					r, err := in.Measure(t.Context(), "m5/volts")
					return err == nil && r.Good()
				})
			})
		})
	}
}

// TestMuteUnit: one of three units says nothing. The others, each read by a
// goroutine of its own, keep every reading.
func TestMuteUnit(t *testing.T) {
	bothFramings(t, func(t *testing.T, p paired) {
		names := map[string]int{"psu": sim.UnitSupply, "m5": sim.UnitMeter5, "m12": sim.UnitMeter12}
		units := map[string]Instrument{}
		for name, unit := range names {
			units[name] = p.unit(name, unit, "&answer=1s")
		}
		p.fault(sim.UnitMeter5, "mute", 1_000_000)
		var readers sync.WaitGroup
		good, failed := map[string]int{}, map[string]error{}
		var mu sync.Mutex
		var enough atomic.Bool
		ends := time.Now().Add(20 * time.Second) // far more than it takes
		for name, in := range units {
			readers.Add(1)
			go func() {
				defer readers.Done()
				for !enough.Load() && time.Now().Before(ends) {
					_, err := in.Measure(t.Context(), capture.ChannelID(name+"/volts"))
					mu.Lock()
					if err == nil {
						good[name]++
					} else {
						failed[name] = err
					}
					enough.Store(good["psu"] >= 5 && good["m12"] >= 5 && failed["m5"] != nil)
					mu.Unlock()
				}
			}()
		}
		readers.Wait()
		if good["m5"] > 0 || !errors.Is(failed["m5"], ErrTimeout) {
			t.Errorf("the mute unit: %d readings, %v", good["m5"], failed["m5"])
		}
		for _, name := range []string{"psu", "m12"} {
			if good[name] < 5 || failed[name] != nil {
				t.Errorf("%s: %d readings, %v", name, good[name], failed[name])
			}
		}
		t.Log(good)
	})
}

// TestRecordPair makes the recordings of the shipped models anew, with -update:
// the supply by TCP, the meter by RTU.
func TestRecordPair(t *testing.T) {
	if !*update {
		t.Skip("only with -update")
	}
	for name, unit := range map[string]int{"modbus-supply": sim.UnitSupply, "modbus-meter": sim.UnitMeter5} {
		p := newPair(t, name == "modbus-supply")
		file := filepath.Join(recordings, name+".txt")
		_ = os.Remove(file) // a recording never overwrites
		cfg := Config{Name: "unit", Model: name, Link: fmt.Sprintf("%s?address=%d", p.pair.Link(), unit), Record: file}
		models := shipped(t)
		if cfg.Acts = models[name].Acts(); len(cfg.Acts) > 0 {
			cfg.OnExit = ExitLeave
		}
		in, err := Open(cfg, models)
		if err != nil {
			t.Fatal(err)
		}
		everything(t, in, models[name])
	}
}
