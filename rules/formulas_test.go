package rules

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/formula"
)

var drop = capture.Formula{Name: "drop", Text: "dmm/volts - dmm2/volts", Unit: "V"}

// overDrop is a job with a formula and a rule on what it comes to.
func overDrop(f capture.Formula) []capture.Record {
	rule := capture.Rule{Name: "band drop", Kind: "band", Rail: five.Name, Of: f.Channel(), Bounds: five.Bounds}
	log := opening([]capture.Rule{rule}, five)
	log[2].Item = capture.RuleSet{Rules: []capture.Rule{rule}, Formulas: []capture.Formula{f}}
	return append(log, capture.Record{At: epoch + 6, Item: capture.Placement{Channel: "dmm2/volts", Point: "TP9", Hold: capture.Clipped}})
}

// rig feeds an engine with ticks between the records, as a bench does.
type rig struct {
	e    *Engine
	tick capture.Instant
	out  Output
}

func newRig(log []capture.Record) *rig {
	r := &rig{e: New(""), tick: epoch + 100_000}
	for _, rec := range log {
		r.e.Consume(rec)
	}
	return r
}

func (r *rig) take(out Output) {
	r.out.Derived = append(r.out.Derived, out.Derived...)
	r.out.Transitions = append(r.out.Transitions, out.Transitions...)
}

func (r *rig) upto(sec float64) {
	for ; r.tick <= at(sec); r.tick += 100_000 {
		r.take(r.e.Consume(capture.Record{At: r.tick, Item: capture.Tick{}}))
	}
}

func (r *rig) item(sec float64, item capture.Item) {
	r.upto(sec)
	r.take(r.e.Consume(capture.Record{At: at(sec) + 13, Item: item}))
}

func (r *rig) last() capture.Derived { return r.e.Figures()[0] }

// TestFormulaIsComputedOncePerInput: with the tick after a new input, and not
// again of the same readings.
func TestFormulaIsComputedOncePerInput(t *testing.T) {
	r := newRig(overDrop(drop))
	v := volts("dmm/volts", 10)
	v.Measured, v.HalfWidth = at(0.9), 10*time.Millisecond
	r.item(1, v)
	w := volts("dmm2/volts", 4.8)
	w.Measured, w.HalfWidth, w.Resolution = at(1.1), 30*time.Millisecond, 0.01
	r.item(1.15, w)
	r.upto(1.2)
	got := r.last()
	if got.Why != "" || got.At != at(1.2) || got.Reading.Value != 10-4.8 || got.Reading.Resolution != 0.01 || got.Reading.Channel != "formula/drop" || got.Reading.Quantity != capture.DCVoltage {
		t.Fatalf("%+v", got)
	}
	if m := got.Reading; m.Measured != at(1.01) || m.HalfWidth != 120*time.Millisecond {
		t.Errorf("measured %v ± %v, the inputs cover 0.89 s to 1.13 s", m.Measured.Sub(epoch), m.HalfWidth)
	}
	if got.Uncertainty != 0 {
		t.Errorf("no accuracy is stated, and the uncertainty is %g", got.Uncertainty)
	}
	r.upto(1.9)
	if n := r.last().Reading.Ordinal; n != 1 {
		t.Errorf("%d figures of one set of readings", n)
	}
	r.item(1.95, w)
	r.upto(2)
	if n := r.last().Reading.Ordinal; n != 2 {
		t.Errorf("%d figures, 2 after a new reading", n)
	}
}

// TestFormulaWithoutAFigure: why there is none, told once each.
func TestFormulaWithoutAFigure(t *testing.T) {
	r := newRig(overDrop(drop))
	r.item(1, volts("dmm/volts", 10))
	r.item(1.02, volts("dmm2/volts", 4.8))
	r.upto(3) // both fall silent
	bad := volts("dmm/volts", 0)
	bad.Flags = capture.OverRange
	r.item(3, bad)
	r.upto(4)
	r.item(4, volts("dmm/volts", 10))
	r.item(4.02, volts("dmm2/volts", 4.8))
	r.upto(4.2)
	r.item(4.3, capture.Placement{Channel: "dmm2/volts", Point: "TP8", Hold: capture.Clipped})
	r.upto(4.5)
	r.item(4.6, volts("dmm2/volts", 4.8))
	r.upto(4.7)
	r.item(4.8, capture.Gap{From: at(4.7), To: at(4.8), Reason: "slept", Ticked: true})
	r.upto(5)
	var got []string
	for _, d := range r.out.Derived {
		got = append(got, d.Why)
	}
	want := []string{
		"dmm/volts has no reading yet", "", "dmm/volts is more than 1s old", "dmm/volts has no value: over_range",
		"", "dmm2/volts has no reading yet", "", "dmm/volts has no reading yet",
	}
	if strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestFormulaDividesByZero(t *testing.T) {
	r := newRig(overDrop(capture.Formula{Name: "share", Text: "dmm/volts / dmm2/volts", Unit: "1", Age: time.Minute}))
	r.item(1, volts("dmm/volts", 10))
	r.item(1.02, volts("dmm2/volts", 0))
	r.upto(2)
	if d := r.last(); d.Why != "division by zero" || d.Reading.Ordinal != 0 || len(r.out.Derived) != 2 {
		t.Errorf("%+v, told %d times", d, len(r.out.Derived))
	}
	r.item(2.1, volts("dmm2/volts", 4))
	r.upto(50)
	if d := r.last(); d.Why != "" || d.Reading.Value != 2.5 {
		t.Errorf("within its age of a minute: %+v", d)
	}
}

// TestRuleOfAFormula: it judges the formula alone, armed while every input is
// clipped and the stage is live.
func TestRuleOfAFormula(t *testing.T) {
	r := newRig(overDrop(drop))
	pair := func(sec, v float64) {
		r.item(sec, volts("dmm/volts", 5+v))
		r.item(sec+0.01, volts("dmm2/volts", 5))
		r.upto(sec + 0.1)
	}
	pair(1, 5) // dmm reads 10 V on the rail of 5 V, and the rule does not look at it
	if len(r.out.Transitions) != 0 {
		t.Fatalf("%+v", r.out.Transitions)
	}
	pair(2, 6)
	if n := len(r.out.Transitions); n != 1 || r.out.Transitions[0].Channel != "formula/drop" || r.out.Transitions[0].Value != 6 || r.out.Transitions[0].At != at(2.1) {
		t.Fatalf("%+v", r.out.Transitions)
	}
	r.item(3, capture.Placement{Channel: "dmm2/volts", Point: "TP9", Hold: capture.Touched})
	pair(3.1, 6)
	last := r.out.Transitions[len(r.out.Transitions)-1]
	if last.To.IsActive() || !strings.Contains(last.Say, "only touched") {
		t.Errorf("%+v", last)
	}
}

// TestUncertaintyOfAFormula: power of 12 V and 0.5 A, limits of error 0.1 % and
// 0.4 % of the reading: u = sqrt((0.5·0.012/√3)² + (12·0.002/√3)²) = 0.01428 W.
func TestUncertaintyOfAFormula(t *testing.T) {
	log := opening(nil, five)
	log[1].Item = capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "supply", Channels: []capture.ChannelInfo{
		{ID: "supply/volts", Quantity: capture.DCVoltage, Setpoint: true, Accuracy: []capture.Accuracy{{Range: 32, OfReading: 0.001}}},
		{ID: "supply/amperes", Quantity: capture.DCCurrent, Setpoint: true, Accuracy: []capture.Accuracy{{Range: 5, OfReading: 0.004}}},
	}}}}
	log[2].Item = capture.RuleSet{Formulas: []capture.Formula{{Name: "power", Text: "supply/volts * supply/amperes", Unit: "W"}}}
	log = append(log, capture.Record{At: epoch + 6, Item: capture.Placement{Channel: "supply/volts"}}, capture.Record{At: epoch + 7, Item: capture.Placement{Channel: "supply/amperes"}})
	r := newRig(log)
	r.item(1, capture.Reading{Channel: "supply/volts", Quantity: capture.DCVoltage, Value: 12})
	r.item(1.01, capture.Reading{Channel: "supply/amperes", Quantity: capture.DCCurrent, Value: 0.5})
	r.upto(1.1)
	if d := r.last(); d.Reading.Value != 6 || d.Uncertainty < 0.02855 || d.Uncertainty > 0.02857 {
		t.Errorf("%+v", d)
	}
}

func TestCheckFormulas(t *testing.T) {
	of := func(id capture.ChannelID) (capture.Quantity, bool) { return capture.DCVoltage, id == "dmm/volts" }
	for say, list := range map[string][]capture.Formula{
		"needs a name":                        {{Text: "dmm/volts", Unit: "V"}},
		`"furlong" is no unit`:                {{Name: "a", Text: "dmm/volts", Unit: "furlong"}},
		"cannot be negative":                  {{Name: "a", Text: "dmm/volts", Unit: "V", Age: -1}},
		"column 1: there is no channel":       {{Name: "a", Text: "dmm/ohms", Unit: "ohm"}},
		"column 1: it names no channel":       {{Name: "a", Text: "5 V", Unit: "V"}},
		"two formulas have this name":         {{Name: "a", Text: "dmm/volts", Unit: "V"}, {Name: "a", Text: "-dmm/volts", Unit: "V"}},
		"column 11: a plain number cannot be": {{Name: "a", Text: "dmm/volts + 1", Unit: "V"}},
	} {
		got := CheckFormulas(list, of)
		if len(got) != 1 || !strings.Contains(got[0].Error(), say) {
			t.Errorf("%q: got %v", say, got)
		}
		var at *formula.Error
		if strings.HasPrefix(say, "column") && !errors.As(got[0], &at) {
			t.Errorf("%v does not say where", got[0])
		}
	}
	e := New("")
	for _, r := range overDrop(capture.Formula{Name: "drop", Text: "dmm/volts +", Unit: "V"}) {
		e.Consume(r)
	}
	if len(e.Problems()) != 1 || len(e.Figures()) != 0 {
		t.Errorf("%v, %v", e.Problems(), e.Figures())
	}
}

// TestFormulasReplayAsLive: whatever happens, the same record gives the same
// alarms with formulas in force, and the same figures.
func TestFormulasReplayAsLive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := randomLog(t)
		set := log[2].Item.(capture.RuleSet)
		set.Formulas = []capture.Formula{drop, {Name: "twice", Text: "max(2 * dmm/volts, dmm2/volts)", Unit: "V", Age: 5 * time.Second}}
		for _, f := range set.Formulas {
			set.Rules = append(set.Rules, capture.Rule{Name: "of " + f.Name, Kind: "band", Rail: dsp.Name, Of: f.Channel()})
		}
		log[2].Item = set
		replays(t, log)
		if a, b := figures(t, log), figures(t, log); !reflect.DeepEqual(a, b) {
			t.Fatal("figures differ")
		} else {
			for _, d := range a {
				if r := d.Reading; r.Ordinal != 0 && d.Why == "" && (r.Measured > d.At || r.HalfWidth < 0 || d.At.Sub(r.Measured.Add(-r.HalfWidth)) > 11*time.Second) {
					t.Fatalf("%+v", d)
				}
			}
		}
	})
}

func figures(t *rapid.T, log []capture.Record) (out []capture.Derived) {
	e := New("")
	f := feeder{take: func(rec capture.Record) { out = append(out, e.Consume(rec).Derived...) }}
	for _, rec := range log {
		if err := f.feed(bg, rec); err != nil {
			t.Fatal(err)
		}
	}
	return out
}
