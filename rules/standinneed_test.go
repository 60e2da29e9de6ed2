package rules

import (
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/standin"
)

// measuredJob is a job in which a rail's load, its input and the air beside its
// converter were measured.
func measuredJob(mend func(*capture.Roster), items func(add func(sec float64, item capture.Item))) *shelfJob {
	fed := five
	fed.FedFrom = "+12 V raw"
	raw := capture.Rail{Name: "+12 V raw", Nominal: 12, Target: 12, Bounds: capture.NoBounds()}
	log := opening(nil, fed, raw)[:3]
	roster := log[1].Item.(capture.Roster)
	accuracy := func(full float64) []capture.Accuracy {
		return []capture.Accuracy{{Range: full, OfReading: 0.005, Resolution: 0.001, Digits: 2}}
	}
	roster.Instruments[0].Channels[0].Accuracy, roster.Instruments[0].Channels[0].Aperture = accuracy(60), time.Millisecond
	roster.Instruments[1].Channels[0].Accuracy = accuracy(60)
	roster.Instruments = append(roster.Instruments,
		capture.InstrumentInfo{Name: "dmm3", Channels: []capture.ChannelInfo{{ID: "dmm3/amps", Quantity: capture.DCCurrent, Aperture: 20 * time.Millisecond, Accuracy: accuracy(10)}}},
		capture.InstrumentInfo{Name: "thermo", Channels: []capture.ChannelInfo{
			{ID: "thermo/1", Quantity: capture.Temperature, Accuracy: accuracy(200)}, {ID: "thermo/2", Quantity: capture.Temperature, Accuracy: accuracy(200)},
		}})
	if mend != nil {
		mend(&roster)
	}
	log[1].Item = roster
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	add(1, capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks})
	add(1.1, capture.Placement{Channel: "dmm/volts", Rail: raw.Name, Hold: capture.Clipped})
	add(1.2, capture.Placement{Channel: "dmm2/volts", Rail: fed.Name, Hold: capture.Clipped})
	add(1.3, capture.Placement{Channel: "dmm3/amps", Rail: fed.Name, Hold: capture.Clipped})
	add(1.4, capture.Placement{Channel: "thermo/1", Point: "stand-in case", Hold: capture.Clipped})
	add(1.5, capture.Placement{Channel: "thermo/2", Point: "air at the converter", Hold: capture.Clipped})
	items(add)
	sortLog(log)
	return &shelfJob{log: log}
}

func got(ch string, q capture.Quantity, v float64) capture.Reading {
	return capture.Reading{Channel: capture.ChannelID(ch), Quantity: q, Value: v, Resolution: 0.001}
}

func working(add func(float64, capture.Item)) {
	add(2, capture.Act{Verb: capture.ActAmbient, Value: 23})
	add(3, got("dmm2/volts", capture.DCVoltage, 0.02))
	add(3.1, got("dmm3/amps", capture.DCCurrent, 0)) // off: nothing is drawn, and that is no least load
	add(4, got("dmm2/volts", capture.DCVoltage, 5.01))
	for i, a := range []float64{1.0, 1.2, 0.8, 1.4, 1.1} {
		add(5+float64(i), got("dmm3/amps", capture.DCCurrent, a))
		add(5.1+float64(i), got("dmm/volts", capture.DCVoltage, 12-a))
		add(5.2+float64(i), got("thermo/2", capture.Temperature, 38+a))
	}
}

// What a job measured takes the place of what a sheet states; an extreme that the
// sheet states worse stays.
func TestNeedFromJob(t *testing.T) {
	need := standin.Need{Rail: five, Load: standin.Figure{Value: 2, Source: "sheet"}, Peak: standin.Figure{Value: 1.6, Source: "sheet"}}
	n, taken, err := NeedFromJob(bg, measuredJob(nil, working), need, time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		f    standin.Figure
		want float64
		from string
	}{
		"load":    {n.Load, 1.1, "measured: mean of 5 readings of dmm3/amps"},
		"peak":    {n.Peak, 1.6, "sheet"},
		"least":   {n.Least, 0.8, "measured: lowest of 5 readings of dmm3/amps"},
		"in_low":  {n.InLow, 10.6, "measured: lowest of 5 readings of dmm/volts"},
		"in_high": {n.InHigh, 11.2, "measured: highest"},
		"ambient": {n.Ambient, 39.4, "measured: highest of 5 readings of thermo/2"},
		"dip":     {n.Dip, 0.37, "the job's sheet"},
	} {
		if math.Abs(c.f.Value-c.want) > 1e-9 || !strings.Contains(c.f.Source, c.from) || strings.HasPrefix(c.from, "measured") && c.f.U <= 0 {
			t.Errorf("%s: %+v", name, c.f)
		}
	}
	if len(taken) < 6 || !strings.Contains(taken[1].Say, "worse than what was measured: highest of 5 readings of dmm3/amps") {
		t.Errorf("%+v", taken)
	}
}

// What was not measured, or by a meter that cannot see it, stays open and says why.
func TestNeedThatWasNotMeasured(t *testing.T) {
	n, taken, err := NeedFromJob(bg, measuredJob(func(r *capture.Roster) {
		r.Instruments[0].Channels[0].Aperture = 20 * time.Millisecond
		r.Instruments[2].Channels[0].Accuracy = nil
	}, func(add func(float64, capture.Item)) {
		working(add)
		add(1.6, capture.Placement{Channel: "thermo/2", Point: "somewhere", Hold: capture.Clipped})
	}), standin.Need{Rail: five}, time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range map[string]standin.Figure{"load": n.Load, "peak": n.Peak, "in_low": n.InLow, "ambient": n.Ambient} {
		if f.Stated() {
			t.Errorf("%s: %+v", name, f)
		}
	}
	said := map[string]string{}
	for _, s := range taken {
		said[s.Key] = s.Say
	}
	for key, want := range map[string]string{"load": "states no accuracy", "in_low": "reads the mean of the ripple", "ambient": "the room had 23.0"} {
		if !strings.Contains(plain(said[key]), want) || !strings.HasPrefix(said[key], "not stated") {
			t.Errorf("%s: %s", key, said[key])
		}
	}
	other := five
	other.Name = "+9 V"
	if _, _, err := NeedFromJob(bg, measuredJob(nil, working), standin.Need{Rail: other}, time.UTC); err == nil {
		t.Error("a rail that the job has not")
	}
}

// "Estimated 61 °C, measured 58 °C": the estimate that was kept is held against the
// end of the soak; too short a soak, and one without the air, cannot tell.
func TestSoakRechecksTheEstimate(t *testing.T) {
	f := func(v, u float64) standin.Figure { return standin.Figure{Value: v, U: u, Source: "invented"} }
	estimate, _ := json.Marshal(standin.Estimate{Ambient: f(40, 2), Watts: f(1, 0.1), Junction: f(65, 5), Top: f(61, 4), Psi: f(4, 1), Most: f(125, 0), PeakRatio: 1.5})
	judged := capture.StandInJudged{Candidate: "board A", Rail: five.Name, Word: "fits", Say: "Board A may.", Point: "stand-in case", Estimate: estimate}
	act, err := judged.Act()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		minutes  int
		top, air float64
		want     string
		say      string
	}{
		"cooler":    {60, 58, 40, "fits", "Estimated 61 °C, measured 58 °C"},
		"hotter":    {60, 75, 40, "cannot tell", "hotter than worked out"},
		"too hot":   {60, 110, 40, "does not fit", "125 °C is allowed"},
		"too short": {10, 58, 40, "cannot tell", "half an hour"},
		"no air":    {60, 58, 0, "cannot tell", "air beside it"},
	} {
		job := measuredJob(nil, func(add func(float64, capture.Item)) {
			add(1.9, act)
			add(2, capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
			add(2.1, capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
			for s := 3.0; s < 60*float64(c.minutes); s += 60 {
				add(s, got("thermo/1", capture.Temperature, c.top))
				if c.air > 0 {
					add(s+1, got("thermo/2", capture.Temperature, c.air))
				}
			}
			add(60*float64(c.minutes)+3, capture.Act{Verb: capture.ActSoak, Text: "stop"})
		})
		d, err := BuildDossier(bg, heatShelf{job}, Told{})
		if err != nil || len(d.StandIns) != 1 || d.StandIns[0].Soaked == nil {
			t.Fatalf("%s: %v %+v", name, err, d.StandIns)
		}
		if s := d.StandIns[0].Soaked; s.Word != c.want || !strings.Contains(plain(s.Say), c.say) {
			t.Errorf("%s: %s: %s", name, s.Word, s.Say)
		}
	}
}

// heatShelf has no series: the mean of the watch stands for it.
type heatShelf struct{ *shelfJob }

func (heatShelf) Series(_ context.Context, _ []capture.Span, _ capture.Quantity, _, _ capture.Instant, _ int) ([]capture.Bucket, error) {
	return nil, nil
}
