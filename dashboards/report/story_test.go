package report

import (
	"math"
	"time"

	"steadyrail/capture"
)

// The invented job of the demo's set, as a dossier would give it.
var (
	zone  = time.FixedZone("", 3600)
	begin = at0(11, 20, 2, 0)
	from  = at0(11, 22, 41, 0)
	to    = at0(12, 6, 41, 0)
	fall  = at0(12, 3, 17, 42)
)

func at0(day, h, m, s int) capture.Instant {
	return capture.InstantOf(time.Date(2031, 3, day, h, m, s, 0, zone))
}

func rail(name string, nominal, tolerance float64, point string) capture.Rail {
	edge := math.Abs(nominal) * tolerance
	return capture.Rail{Name: name, Nominal: nominal, Target: nominal, Bounds: capture.Bounds{Low: nominal - edge, High: nominal + edge}, Point: point, Return: "0 V", ShortBelow: 5}
}

var story4 = []capture.Rail{rail("+5 V logic", 5, .02, "TP5"), rail("+12 V audio", 12, .05, "TP12"), rail("−12 V audio", -12, .05, "TP13"), rail("+3.3 V DSP", 3.3, .03, "TP3")}

func roster() capture.Roster {
	volts := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond, Aperture: 20 * time.Millisecond, Group: "input",
		Accuracy: []capture.Accuracy{{Range: 1, OfReading: .00004, OfRange: .00003, Resolution: 1e-6, Uncertainty: "bench's own sheet, page 1"}, {Range: 10, OfReading: .00015, OfRange: .00004, Resolution: .001, Uncertainty: "bench's own sheet, page 1"}}}
	ohms := capture.ChannelInfo{ID: "dmm/ohms", Quantity: capture.Resistance, Aperture: 20 * time.Millisecond, Group: "input"}
	return capture.Roster{Instruments: []capture.InstrumentInfo{
		{Name: "dmm", Model: "scpi-multimeter", Title: "bench multimeter, 5½ digits", Identity: capture.Identity{Serial: "00010442"}, CalibrationDue: "2031-09-30", Channels: []capture.ChannelInfo{volts, ohms}},
		{Name: "dmm2", Model: "scpi-multimeter", Title: "bench multimeter, 4½ digits", Identity: capture.Identity{Serial: "77-0193"}, CalibrationDue: "2031-02-28", Channels: []capture.ChannelInfo{{ID: "dmm2/volts", Quantity: capture.DCVoltage, Accuracy: []capture.Accuracy{{Range: 20, OfReading: .003, Digits: 2, Resolution: .01}}}}},
		{Name: "supply", Model: "scpi-supply", Title: "bench supply", Identity: capture.Identity{Serial: "20817"}, Channels: []capture.ChannelInfo{{ID: "supply/volts", Quantity: capture.DCVoltage, Setpoint: true}}},
		{Name: "thermo", Model: "scpi-thermometer", Title: "thermometer, thermocouple K", CalibrationDue: "2031-11-20", Channels: []capture.ChannelInfo{{ID: "thermo/celsius", Quantity: capture.Temperature, Accuracy: []capture.Accuracy{{Range: 200, Digits: 20, Resolution: .1}}}}},
	}}
}

func series(r capture.Rail) []capture.Bucket {
	var out []capture.Bucket
	k := r.Nominal / 5
	for t := from; t < to; t = t.Add(5 * time.Minute) {
		h := t.Sub(from).Hours()
		mean := k * (5.021 - .012*(1-math.Exp(-h/.6)))
		b := capture.Bucket{From: t, To: t.Add(5 * time.Minute), N: 1500, Min: mean - .005, Max: mean + .006, Mean: mean, Last: mean}
		if r.Nominal == 5 && fall >= b.From && fall < b.To {
			b.Min = 3.087
		}
		out = append(out, b)
	}
	return out
}

func result(r capture.Rail, st capture.Stage, q capture.Quantity, v, res, u float64, ch capture.ChannelID, o capture.Outcome, say string) capture.Result {
	return capture.Result{Rail: r.Name, Stage: st, Quantity: q, Value: v, Resolution: res, Uncertainty: u, Channel: ch, Point: r.Point, Return: r.Return, At: from, N: 1, Outcome: o, Say: say}
}

func watch(r capture.Rail, ch capture.ChannelID, res float64) capture.Watch {
	w := capture.Watch{Channel: ch, From: from, To: to, N: 143195, Bad: 12, Mean: r.Nominal * 1.0018, SD: .0021, Min: r.Nominal * .99, MinAt: at0(12, 1, 2, 3), Max: r.Nominal * 1.005, MaxAt: from.Add(time.Minute), Lag1: .6, Effective: 35798.7, Resolution: res,
		Observed: .0994, Answered: .9938, Aperture: 20 * time.Millisecond, Interval: 200 * time.Millisecond, LongestGap: 161 * time.Second, GapAt: at0(12, 1, 32, 10), SureDip: 390 * time.Millisecond, DipDepth: .2,
		Chance: []capture.DipChance{{Length: 10 * time.Millisecond, Seen: .12}, {Length: 50 * time.Millisecond, Seen: .31}, {Length: 100 * time.Millisecond, Seen: .561}}}
	if r.Nominal == 5 {
		w.Min, w.MinAt = 3.087, fall
	}
	if w.Min > w.Max {
		w.Min, w.Max = w.Max, w.Min
	}
	return w
}

func fullStory() capture.Dossier {
	d := capture.Dossier{
		Sheet: capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88 stage piano", Board: "supply board, issue 3", SerialNumber: "004417", Symptom: "dead keys, hiss at power-up", Technician: "R. Hale", Bench: "east", Simulated: true, Rails: story4,
			NotChecked: []string{"keybed and pedals"}},
		Roster: roster(), From: begin, To: to,
		Head:  capture.Head{Count: 572780, Last: to, Hash: "b7e140c95d2f88a013f6e94c7a05d2beb7e140c95d2f88a013f6e94c7a05d2be"},
		Gaps:  []capture.Gap{{From: at0(12, 1, 32, 10), To: at0(12, 1, 34, 51), Reason: "meter asleep"}},
		Rules: capture.RuleSet{Engine: "1", Rules: []capture.Rule{{Name: "collapse +5 V logic", Kind: "collapse", Rail: "+5 V logic", Severity: capture.Urgent, Latch: true, Implied: true, Window: 30 * time.Second}}},
		Soak:  &capture.SoakEvidence{From: from, To: to, Planned: 8 * time.Hour, Watched: 7*time.Hour + 57*time.Minute, Pieces: 2, Parts: []capture.SoakPart{{From: from, To: at0(12, 1, 32, 10)}, {From: at0(12, 1, 34, 51), To: to}}, Failures: 1, Say: []string{"One failure in 7.95 h: with 95 % confidence it fails on average no more often than once in 1.7 h, if the conditions stay the same", "To show with 95 % confidence that a fault which came once in 3 h is gone takes 9 h without one", "+5 V logic: worst of 477 means over a minute 5.004 V ± 2.3 mV (k = 2), inside the band", "+5 V logic: 3 of 143 195 readings lay outside the band; with 95 % confidence at least 99.9 % lie inside (35 798 count as independent)"}},
		Stages: []capture.StageSpan{
			{Stage: capture.ColdChecks, From: begin, To: begin.Add(20 * time.Minute)}, {Stage: capture.Isolate, From: begin.Add(20 * time.Minute), To: begin.Add(50 * time.Minute)},
			{Stage: capture.Preset, From: begin.Add(50 * time.Minute), To: begin.Add(80 * time.Minute)}, {Stage: capture.Trim, From: begin.Add(80 * time.Minute), To: begin.Add(100 * time.Minute)},
			{Stage: capture.Soak, From: from, To: to}, {Stage: capture.SignOff, From: to},
		},
	}
	cold, after := []float64{.84, 1920, 2040, 148}, []float64{5.009, 12.09, -12.14, 3.296}
	ch := []capture.ChannelID{"dmm/volts", "dmm2/volts", "dmm2/volts", "dmm/volts"}
	res := []float64{.001, .01, .01, .001}
	u := []float64{.0023, .0561, .0562, .0019}
	for i, r := range story4 {
		o, say := capture.Pass, "No short"
		if i == 0 {
			o, say = capture.Fail, "0.84 Ω: short"
		}
		e := capture.RailEvidence{Rail: r, Before: []capture.Result{result(r, capture.ColdChecks, capture.Resistance, cold[i], []float64{.01, 10, 10, 1}[i], 0, "dmm/ohms", o, say)}}
		if i == 1 || i == 2 {
			e.Before = append(e.Before, result(r, capture.LiveChecks, capture.DCVoltage, after[i]*1.001, .01, u[i], ch[i], capture.Pass, "Inside"))
		}
		if i == 3 {
			e.Before = append(e.Before, result(r, capture.LiveChecks, capture.DCVoltage, .012, .001, .002, ch[i], capture.Fail, "Missing"))
		}
		e.After = []capture.Result{result(r, capture.WarmUp, capture.DCVoltage, after[i], res[i], u[i], ch[i], capture.Pass, "Inside")}
		e.After[0].N = 300
		e.Verdicts = []capture.Verdict{{Rule: "band " + r.Name, Kind: "band", Rail: r.Name, Outcome: capture.Pass, Say: "Inside", Value: after[i], Uncertainty: u[i], Unit: "V", Resolution: res[i], Channel: ch[i], From: to.Add(-10 * time.Second), To: to, N: 50}}
		if i == 0 {
			e.Verdicts = append(e.Verdicts, capture.Verdict{Rule: "collapse " + r.Name, Kind: "collapse", Rail: r.Name, Outcome: capture.Fail, Say: "Collapsed once, from 5.011 V to 3.087 V", Value: 3.087, Unit: "V", Resolution: .001, Channel: ch[i], From: fall, To: fall.Add(200 * time.Millisecond), N: 2})
		}
		e.Watches, e.Series = []capture.Watch{watch(r, ch[i], res[i])}, series(r)
		d.Rails = append(d.Rails, e)
	}
	d.Points = []capture.Watch{{Channel: "thermo/celsius", Point: "stand-in case", From: from, To: to, N: 28000, Mean: 44.1, SD: 2.3, Min: 24.2, MinAt: from, Max: 46.8, MaxAt: fall, Resolution: .1}}
	for t := from; t < to; t = t.Add(10 * time.Minute) {
		c := 24 + 21*(1-math.Exp(-t.Sub(from).Hours()/.6))
		d.Points[0].Series = append(d.Points[0].Series, capture.Bucket{From: t, To: t.Add(10 * time.Minute), N: 600, Min: c - .2, Max: c + .2, Mean: c})
	}
	d.Entries = entries()
	d.Alarms = []capture.AlarmStory{collapseStory()}
	return d
}

func entries() []capture.Entry {
	e := func(minutes int, st capture.Stage, v capture.Verb, subject, text string) capture.Entry {
		return capture.Entry{At: begin.Add(time.Duration(minutes) * time.Minute), Stage: st, Act: capture.Act{Verb: v, Subject: subject, Text: text}, Text: text}
	}
	return []capture.Entry{
		e(3, capture.ColdChecks, capture.ActNull, "dmm", "Leads nulled: 0.18 Ω"),
		e(6, capture.ColdChecks, "", "+5 V logic", "+5 V logic read 0.84 Ω to its return"),
		e(24, capture.Isolate, capture.ActLift, "CN3", "CN3 lifted: +5 V logic still reads 0.84 Ω. Acquitted"),
		e(31, capture.Isolate, capture.ActLift, "C104", "C104 lifted: +5 V logic reads 0.85 Ω. Acquitted"),
		e(42, capture.Isolate, capture.ActLift, "PS2", "PS2 output pin lifted: +5 V logic reads 212 Ω"),
		e(44, capture.Isolate, capture.ActFinding, "PS2", "PS2 is shorted inside: lifting its output took 99.6 % of the conductance with it, and the part itself reads 0.85 Ω off the board"),
		e(55, capture.Preset, capture.ActLimits, "supply", "Supply set to 24 V, 0.3 A"),
		e(62, capture.Preset, capture.ActTurn, "", "Trimmer turned up by 1.5 turns: 5.00 V without load"),
		e(85, capture.Trim, capture.ActTurn, "", "Trimmer turned up by 0.25 turns: 5.009 V under load"),
		e(181, capture.Soak, capture.ActNote, "", "covers on"),
	}
}

func collapseStory() capture.AlarmStory {
	id := capture.AlarmID("collapse +5 V logic", fall)
	s := capture.AlarmStory{Alarm: id, Rule: "collapse +5 V logic", Kind: "collapse", Rail: "+5 V logic", Severity: capture.Urgent, Raised: fall, Cleared: fall.Add(600 * time.Millisecond), Heard: fall.Add(80 * time.Second), Say: "+5 V logic collapsed: from 5.011 V to 3.087 V"}
	s.Transitions = []capture.Transition{
		{At: fall, From: capture.Normal, To: capture.Active}, {At: fall.Add(600 * time.Millisecond), From: capture.Active, To: capture.Latched},
		{At: fall.Add(80 * time.Second), From: capture.Latched, To: capture.LatchedHeard, By: "R. Hale"},
	}
	for i, v := range []float64{5.011, 5.012, 5.011, 5.010, 5.011, 5.012, 5.011, 3.087, 3.412, 4.968, 5.017, 5.011, 5.011, 5.012} {
		s.Around = append(s.Around, capture.Point2{At: fall.Add(time.Duration(i-7) * 200 * time.Millisecond), Value: v, Good: true})
	}
	return s
}

// clean is the same story without the collapse: fit to sign off.
func clean() capture.Dossier {
	d := fullStory()
	d.Sheet.Simulated = false
	d.Alarms, d.Rails[0].Verdicts = nil, d.Rails[0].Verdicts[:1]
	d.Soak.Failures, d.Soak.Passed = 0, true
	d.Soak.Pieces, d.Soak.Parts = 1, d.Soak.Parts[:1]
	d.Rails[0].Watches[0].Min = 4.995
	for i := range d.Rails[0].Series {
		if b := &d.Rails[0].Series[i]; b.Min < 4.9 {
			b.Min = b.Mean - .005
		}
	}
	d.Soak.Say = []string{"No failure in 7.95 h: with 95 % confidence it fails on average no more often than once in 2.7 h"}
	return d
}

func emptyJob() capture.Dossier {
	rails := story4[:1]
	return capture.Dossier{Sheet: capture.Sheet{Job: "AB-0148", Rails: rails}, Rails: []capture.RailEvidence{{Rail: rails[0]}}, From: begin, To: begin}
}

func negativeOnly() capture.Dossier {
	d := clean()
	d.Sheet.Job, d.Sheet.Rails = "AB-0149", d.Sheet.Rails[2:3]
	d.Rails, d.Points, d.Entries = d.Rails[2:3], nil, nil
	return d
}

func oneSided() capture.Dossier {
	d := clean()
	r := capture.Rail{Name: "+24 V in", Nominal: 24, Target: 24, Bounds: capture.Bounds{Low: 22, High: math.Inf(1)}}
	d.Sheet.Job, d.Sheet.Rails = "AB-0150", []capture.Rail{r}
	d.Points, d.Entries, d.Stages, d.Soak = nil, nil, nil, nil
	d.Rails = []capture.RailEvidence{{Rail: r, After: []capture.Result{result(r, capture.WarmUp, capture.DCVoltage, 24.1, .1, 0, "dmm2/volts", capture.Pass, "Inside")}, Series: series(r)}}
	return d
}

func options() Options {
	return Options{Zone: zone, Version: "0.1", Written: to.Add(29 * time.Minute), File: "AB-0147.srj"}
}
