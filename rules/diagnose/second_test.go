package diagnose

import (
	"maps"
	"os"
	"testing"

	"steadyrail/capture"
)

// scanner is another board of the Alderbrook 88, the one that scans the keys:
// figures invented, and nothing of the engine was ever tuned by it.
func scanner(t testing.TB) Board {
	rails, err := capture.ParseRails("+15 15% feed at=J1, +5 3% scan at=TP21, 3.3 3% cpu at=TP22, 1.8 4% core at=TP23 short<1ohm, -5 5% ref at=TP24, +12 5% lamp at=TP25")
	if err != nil {
		t.Fatal(err)
	}
	name := func(i int) string { return rails[i].Name }
	return Board{
		Name: "Alderbrook 88 keyboard scanner", Rails: rails,
		Sources: []Source{{"W1", name(0)}},
		Converters: []Converter{
			{Name: "U20", In: name(0), Out: name(1), Ohms: 700, InOhms: 6e3, Enable: "RUN", Inductor: "L20"},
			{Name: "U21", In: name(1), Out: name(2), Ohms: 500, InOhms: 2e3},
			{Name: "U22", In: name(2), Out: name(3), Ohms: 60, InOhms: 1.5e3, Enable: "PG21", Inductor: "L22"},
			{Name: "U23", In: name(1), Out: name(4), Ohms: 800, InOhms: 4e3},
			{Name: "U24", In: name(0), Out: name(5), Ohms: 900, InOhms: 9e3, Enable: "DIM"},
		},
		Loads: []Load{
			{Name: "scan matrix left", Rail: name(1), Connector: "J21", Ohms: 330},
			{Name: "scan matrix right", Rail: name(1), Connector: "J22", Ohms: 330},
			{Name: "processor", Rail: name(2), Ohms: 120},
			{Name: "processor core", Rail: name(3), Ohms: 14},
			{Name: "wheel board", Rail: name(4), Connector: "J24", Ohms: 600},
			{Name: "lamp strip", Rail: name(5), Connector: "J25", Ohms: 260},
		},
		Capacitors: []Capacitor{{"C201", name(0)}, {"C205", name(1)}, {"C208", name(2)}, {"C211", name(3)}, {"C214", name(4)}, {"C217", name(5)}},
	}
}

// scannerAmps is what its loads draw when healthy.
var scannerAmps = map[string]float64{"scan matrix left": 0.12, "scan matrix right": 0.12, "processor": 0.2, "processor core": 0.35, "wheel board": 0.05, "lamp strip": 0.3}

var fresh = []struct {
	name   string
	faults []Fault
	says   string
}{
	{"load behind a connector shorted", []Fault{{"scan matrix right", Shorted}}, ""},
	{"soldered load shorted", []Fault{{"processor", Shorted}}, ""},
	{"capacitor shorted two rails down", []Fault{{"C211", Shorted}}, ""},
	{"capacitor leaky on the feed", []Fault{{"C201", Leaky}}, ""},
	{"converter shorted", []Fault{{"U21", Shorted}}, ""},
	{"inductor open", []Fault{{"U22", InductorOpen}}, ""},
	{"enable missing", []Fault{{"U20", NotEnabled}}, ""},
	{"feed sags", []Fault{{"W1", Sags}}, ""},
	{"load overloads", []Fault{{"lamp strip", Overloads}}, ""},
	{"converter weak", []Fault{{"U24", Weak}}, ""},
	{"stops when hot", []Fault{{"U22", StopsHot}}, ""},
	{"regulates high", []Fault{{"U20", High}}, ""},
	{"connector open", []Fault{{"J24", ConnectorOpen}}, ""},
	{"negative rail gives nothing", []Fault{{"U23", GivesNothing}}, ""},
	{"two faults at once", []Fault{{"C217", Shorted}, {"U23", GivesNothing}}, ""},
	{"wrong indication", []Fault{{"C205", Shorted}}, "set says +12 V lamp"},
}

// TestSecondBoard walks faults of a board that nothing was tuned by and tells
// what comes out: three of them, all with STEADYRAIL_DIAGNOSE_ALL=1. It holds only that the study ran to its end and that
// asking is no worse than reading everything in a fixed order; the figures
// stand in DEVELOPERS.md as they came out.
func TestSecondBoard(t *testing.T) {
	b := scanner(t)
	kept := maps.Clone(amps)
	maps.Copy(amps, scannerAmps)
	t.Cleanup(func() { amps = kept })
	g := New(b)
	first, meters, fixed, minutes, fixedMinutes := 0, 0, 0, 0.0, 0.0
	list := fresh
	if os.Getenv("STEADYRAIL_DIAGNOSE_ALL") == "" {
		list = fresh[:3]
	}
	for i, c := range list {
		var before []string
		if c.says != "" {
			before = []string{c.says}
		}
		r, _, n := walk(t, g, newWorld(b, uint64(100+i), c.faults...), before, asked)
		rf, _, nf := walk(t, g, newWorld(b, uint64(100+i), c.faults...), before, checklist)
		right := same(r.Ranked[0].Explanation, c.faults)
		if right {
			first++
		}
		t.Logf("%-34s %5v %2d measurements %5.1f min (fixed order %2d, %5.1f min): %.2f %s", c.name, right, n, r.Minutes, nf, rf.Minutes, r.Ranked[0].P, r.Ranked[0].Say)
		meters, fixed, minutes, fixedMinutes = meters+n, fixed+nf, minutes+r.Minutes, fixedMinutes+rf.Minutes
	}
	n := float64(len(list))
	t.Logf("first in %d of %d; mean %.1f measurements and %.1f min, fixed order %.1f and %.1f min", first, len(list), float64(meters)/n, minutes/n, float64(fixed)/n, fixedMinutes/n)
	if minutes >= fixedMinutes {
		t.Error("asking takes longer than the fixed order")
	}
}
