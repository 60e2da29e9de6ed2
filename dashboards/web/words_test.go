package web

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

var logic = capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: 5}
var minus = capture.Rail{Name: "−12 V audio", Nominal: -12, Target: -12, Bounds: capture.Bounds{Low: -12.6, High: -11.4}}
var core = capture.Rail{Name: "core", Nominal: 1.2, Target: 1.2, Bounds: capture.Bounds{Low: 1.14, High: math.Inf(1)}}

func plain(s string) string { return strings.ReplaceAll(s, nbsp, " ") }

func TestVerdictWords(t *testing.T) {
	for _, c := range []struct {
		rail       capture.Rail
		v, u, res  float64
		tone       tone
		word, more string
	}{
		{logic, 5.012, .005, .001, inside, "Inside", "0.012 V high of target"},
		{logic, 5, .005, .001, inside, "Inside", "on target"},
		{logic, 4.881, .005, .001, low, "Low by 0.019 V", "limit 4.900 V"},
		{logic, 5.15, .005, .01, high, "High by 0.05 V", "limit 5.10 V"},
		{logic, 4.91, .03, .01, doubt, "Cannot tell", "0.01 V from the edge, meter ± 0.03 V"},
		{logic, 4.89, .03, .01, doubt, "Cannot tell", "0.01 V from the edge, meter ± 0.03 V"},
		{logic, 4.9, 0, .01, inside, "Inside", "0.10 V low of target"},
		// By magnitude: -9 V on a -12 V rail is low.
		{minus, -9, .036, .01, low, "Low by 2.40 V", "limit −11.40 V"},
		{minus, -13, .036, .01, high, "High by 0.40 V", "limit −12.60 V"},
		{minus, -12.14, .036, .01, inside, "Inside", "0.14 V high of target"},
		{core, 9, .001, .001, inside, "Inside", "7.800 V high of target"},
		{core, 1.1, .001, .001, low, "Low by 0.040 V", "limit 1.140 V"},
	} {
		got := judge(c.rail, c.v, c.u)
		word, more := verdictWords(c.rail, got, c.v, c.u, c.res)
		if got != c.tone || plain(word) != c.word || plain(more) != c.more {
			t.Errorf("%s at %g ± %g: %s, %q, %q", c.rail.Name, c.v, c.u, got, plain(word), plain(more))
		}
	}
}

func TestOrder(t *testing.T) {
	for _, c := range []struct {
		rail capture.Rail
		v    float64
		want string
	}{
		{logic, 4.881, "0.12 V low: turn up"}, {logic, 5.2, "0.20 V high: turn down"}, {logic, 5.001, "On target: leave it"}, {logic, 5.03, "Inside, 0.03 V high: let it settle"},
		{minus, -9, "3.00 V low: turn up"}, {minus, -13, "1.00 V high: turn down"},
	} {
		what, then := order(c.rail, c.v, .005, .001)
		if got := plain(what + " " + then); got != c.want {
			t.Errorf("%s at %g: %q, want %q", c.rail.Name, c.v, got, c.want)
		}
	}
}

func TestAges(t *testing.T) {
	for d, want := range map[time.Duration]string{0: "0.0 s", 400 * time.Millisecond: "0.4 s", 9960 * time.Millisecond: "10 s", 38 * time.Second: "38 s", 4 * time.Minute: "4 min", 130 * time.Minute: "2 h 10 min"} {
		if got := plain(ageText(d)); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
	for d, want := range map[time.Duration]string{8 * time.Hour: "8 h", 161 * time.Second: "2 min 41 s", 52 * time.Minute: "52 min", 0: "0 s"} {
		if got := plain(spanText(d)); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
}

func TestDigitsBelowTheSpreadAreLoose(t *testing.T) {
	for _, c := range []struct {
		spread           float64
		ints, frac, rest string
	}{{0, "5", ".012", ""}, {.001, "5", ".012", ""}, {.0013, "5", ".01", "2"}, {.05, "5", ".0", "12"}, {10, "5", ".0", "12"}} {
		n := voltNumeral(5.012, .001, c.spread)
		if n.Int != c.ints || n.Frac != c.frac || n.Loose != c.rest {
			t.Errorf("spread %g: %+v", c.spread, n)
		}
	}
	if n := voltNumeral(-12.14, .01, 0); n.Int != "−12" || n.Frac != ".14" || n.Spoken != "minus 12.14 volts" {
		t.Errorf("%+v", n)
	}
	if n := voltNumeral(12, 1, 0); n.Int != "12" || n.Frac != "" {
		t.Errorf("%+v", n)
	}
}

// Whatever a meter says, a mark stays on its drawing, a numeral keeps the digits
// of the meter, and low means that the reading lies left.
func TestBandHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nominal := rapid.SampledFrom([]float64{5, -12, 3.3, 1.2, -5, 48}).Draw(t, "nominal")
		tol := rapid.Float64Range(.001, .3).Draw(t, "tolerance")
		w := math.Abs(nominal) * tol
		r := capture.Rail{Name: "r", Nominal: nominal, Target: nominal, Bounds: capture.Bounds{Low: nominal - w, High: nominal + w}}
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		u := rapid.Float64Range(0, 1).Draw(t, "uncertainty")
		got := judge(r, v, u)
		b := drawBand(r, got, v, u, "")
		if b.At < 4 || b.At > 96 || b.WhiskerX < 0 || b.WhiskerX+b.WhiskerW > 100.11 {
			t.Fatalf("off the drawing: %+v", b)
		}
		if got == low && (b.At > 50 || math.Abs(v) > math.Abs(nominal) && v*nominal > 0) || got == high && b.At < 50 {
			t.Fatalf("%s lies at %g", got, b.At)
		}
		if got != doubt && r.Bounds.Contains(v) != (got == inside) {
			t.Fatalf("%s for %g in %+v", got, v, r.Bounds)
		}
		n := voltNumeral(v, .001, u)
		if n.Int+n.Frac+n.Loose != capture.Figure(v, .001) {
			t.Fatalf("%+v is not %s", n, capture.Figure(v, .001))
		}
	})
}

func TestSilenceIsAState(t *testing.T) {
	now := capture.Instant(1e15)
	snap := live.Snapshot{Now: now, Channels: []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/volts", Every: 200 * time.Millisecond}}}, Instruments: []live.InstrumentView{{Info: capture.InstrumentInfo{Name: "dmm"}, Up: true}}}
	v := &view{snap: snap, zone: time.UTC}
	rv := live.RailView{Rail: logic, Live: true, Volts: &live.Last{At: now.Add(-time.Second), Reading: capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: .001}}}
	if l := v.lane(rv); l.Number == nil {
		t.Errorf("a young reading is gone: %+v", l)
	}
	rv.Volts.At = now.Add(-38 * time.Second)
	if l := v.lane(rv); l.Number != nil || l.Gone != "No reading" || plain(l.Word) != "Silent 38 s" || l.Age != "dmm asleep?" {
		t.Errorf("an old reading stays large: %+v", l)
	}
	v.snap.Instruments[0].Up, v.snap.Instruments[0].Problem = false, "the port is gone: plug the adapter in"
	if l := v.lane(rv); l.Age != "the port is gone: plug the adapter in" {
		t.Errorf("%+v", l)
	}
	rv.Live = false
	if l := v.lane(rv); l.Tone != nowhere || l.Age != "no probe on it" {
		t.Errorf("%+v", l)
	}
	rv.Volts.Reading.Flags = capture.Typed | capture.ByEye
	if l := v.lane(rv); l.Number == nil || l.Tone != inside || plain(l.Age) != "38 s ago" || !strings.Contains(l.More, "read by eye") {
		t.Errorf("what was read by eye is gone after a while: %+v", l)
	}
	byEye := rv
	byEye.Ohms = &live.Last{At: now.Add(-20 * time.Second), Reading: capture.Reading{Channel: "by eye/ohms AB-0147", Quantity: capture.Resistance, Flags: capture.Typed | capture.ByEye | capture.OverRange}}
	if l := v.lane(byEye); l.Gone != "Above the range" || plain(l.Age) != "20 s ago" {
		t.Errorf("a display above its range, read by eye: %+v", l)
	}
	rv.Live, rv.Volts.At, rv.Volts.Reading.Flags = true, now, capture.TimedOut
	if l := v.lane(rv); l.Number != nil || l.Age != "no answer in time" {
		t.Errorf("%+v", l)
	}
	rv.Volts.Reading.Flags = capture.Held
	if l := v.lane(rv); l.Tone != doubt || l.More != "display on hold" {
		t.Errorf("a held display is judged: %+v", l)
	}
}

func TestSentences(t *testing.T) {
	lanes := func(tones ...tone) (map[tone][]string, []lane) {
		by, out := map[tone][]string{}, []lane{}
		for i, tn := range tones {
			name := string(rune('A' + i))
			by[tn] = append(by[tn], name)
			l := lane{Name: name, Tone: tn, Word: "Low by 1 V"}
			if tn == high {
				l.Word = "High by 1 V"
			}
			out = append(out, l)
		}
		return by, out
	}
	for want, tones := range map[string][]tone{
		"All four rails inside":     {inside, inside, inside, inside},
		"B low":                     {inside, low, inside},
		"A high":                    {high, inside},
		"A, B and C outside":        {low, high, low},
		"Four rails outside":        {low, high, low, low},
		"A and B: cannot tell":      {doubt, doubt},
		"No reading on B":           {inside, silent},
		"No rail is being measured": {nowhere, nowhere},
		"A inside":                  {inside, nowhere, nowhere},
		"Two of three rails inside": {inside, inside, nowhere},
	} {
		by, ls := lanes(tones...)
		if got := plain(railSentence(by, len(tones), ls)); got != want {
			t.Errorf("%v: %q, want %q", tones, got, want)
		}
	}
}

func TestFirstLettersOfAnyAlphabet(t *testing.T) {
	for in, want := range map[string]string{"": "", "room": "Room", "öl": "Öl", "Ω sense": "Ω sense"} {
		if got := capital(in); got != want {
			t.Errorf("capital(%q) = %q, want %q", in, got, want)
		}
	}
	if got := lowerFirst("Über"); got != "über" {
		t.Errorf("%q", got)
	}
}

// A channel of values read by eye is no meter: it has no link to be down, and
// cannot be placed.
func TestHandEntryIsNoMeter(t *testing.T) {
	snap := live.Snapshot{
		Channels:    []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/volts"}, Job: "AB-0147"}, {Info: capture.ChannelInfo{ID: "by eye/volts AB-0147"}, Job: "AB-0147"}},
		Instruments: []live.InstrumentView{{Info: capture.InstrumentInfo{Name: "dmm"}, Up: true}},
	}
	v := &view{snap: snap, zone: time.UTC, Job: live.JobView{Sheet: capture.Sheet{Job: "AB-0147"}}}
	if got := v.Placeable(); len(got) != 1 || got[0] != "dmm/volts" {
		t.Errorf("placeable: %v", got)
	}
	if got := v.Placements(); len(got) != 1 || got[0].Channel != "dmm/volts" {
		t.Errorf("where the meters are: %+v", got)
	}
}

func TestEveryPartHasATemplate(t *testing.T) {
	p, err := New()
	if err != nil {
		t.Fatal(err)
	}
	for page := range parts {
		if _, _, err := p.Parts(page, Model{}); err != nil {
			t.Errorf("%s: %v", page, err)
		}
		var b strings.Builder
		if err := p.Render(&b, page, Model{}); err != nil {
			t.Errorf("%s: %v", page, err)
		}
		for _, part := range parts[page] {
			if !strings.Contains(b.String(), `id="part-`+part+`"`) {
				t.Errorf("page %s has no place for its part %s", page, part)
			}
		}
	}
	if err := p.Render(&strings.Builder{}, "weather", Model{}); err == nil {
		t.Error("a page that does not exist was drawn")
	}
}

// A meter that ranged down beside a dead rail tells its distance no finer than
// the band is worth, and a rail that is not up is not trimmed.
func TestADeadRail(t *testing.T) {
	r := capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	if word, _ := verdictWords(r, low, 1e-7, 0, 1e-7); word != "Low by"+nbsp+"4.900"+nbsp+"V" {
		t.Errorf("%q", word)
	}
	for v, want := range map[float64]string{1e-7: "Not up:", 2.9: "Not up:", 3.1: "1.90" + nbsp + "V low:"} {
		if what, _ := order(r, v, 0, 0.01); what != want {
			t.Errorf("%g V: %q, want %q", v, what, want)
		}
	}
}
