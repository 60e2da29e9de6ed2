package rules

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"steadyrail/capture"
)

// sketch is a little series that shows what a kind judges. NaN is a reading that
// did not come.
type sketch struct {
	name          string
	length, every float64 // seconds
	quantity      capture.Quantity
	value         func(t float64) float64
	limits        func(t float64) bool    // the supply limits its current; nil: never
	other         func(t float64) float64 // volts of the other rail, or beside; nil: nothing is
	acts          []sketchedAct           // what is done meanwhile, in order
	rule          capture.Rule            // what differs from the default
	low, high     float64                 // shaded: the band, or up to the limit
	accuracy      capture.Accuracy        // of the meter, where the picture tells it; zero: not stated
}

// The rails and channels of every sketch.
const (
	sketchRail    = "+5 V logic"
	sketchOther   = "+12 V audio"
	sketchChannel = capture.ChannelID("meter/input")
	sketchBeside  = capture.ChannelID("other/volts")
	sketchStart   = capture.Instant(1_800_000_000_000_000)
	sketchPoints  = 120
)

// picture runs a kind's sketch through the engine, as a job's readings are.
func picture(name string) capture.KindPicture {
	s := sketchOf(name)
	d := drawing{sketch: s, engine: New(""), out: capture.KindPicture{Low: s.low, High: s.high, Unit: s.quantity.Unit()}}
	for i, item := range s.opening() {
		d.take(sketchStart+capture.Instant(i+1), item)
	}
	tick := max(0.1, s.every/2)
	next, keep := tick, 0.0
	for k := 1; float64(k)*s.every < s.length; k++ {
		t := float64(k) * s.every
		for ; next < t; next += tick {
			d.take(instant(next), capture.Tick{})
		}
		for ; len(d.acts) > 0 && d.acts[0].t <= t; d.acts = d.acts[1:] {
			d.take(instant(d.acts[0].t), d.acts[0].act)
		}
		d.read(t, t >= keep)
		if t >= keep {
			keep = t + float64(s.length/sketchPoints)
		}
	}
	return d.out
}

func instant(t float64) capture.Instant { return sketchStart + capture.Instant(math.Round(t*1e6)) }

// drawing is a sketch being judged.
type drawing struct {
	sketch
	engine *Engine
	out    capture.KindPicture
}

// take hands an item to the engine and keeps the first thing that the judge has
// to say: an alarm, or of settled that it has.
func (d *drawing) take(at capture.Instant, item capture.Item) {
	out := d.engine.Consume(capture.Record{At: at, Item: item})
	if d.out.Spoke != 0 {
		return
	}
	for _, t := range out.Transitions {
		if t.To.IsActive() {
			d.out.Spoke, d.out.Say = at, t.Say
			d.doubt()
			return
		}
	}
	for _, v := range out.Verdicts {
		if d.name == "settled" && v.Outcome == capture.Pass {
			d.out.Spoke, d.out.Say = at, v.Say
		}
	}
}

// doubt keeps what the verdict says at this moment, with its uncertainty, where
// the sketch has a meter of stated accuracy. A figure of many readings says its
// interval itself; that of one is drawn about them.
func (d *drawing) doubt() {
	if d.accuracy == (capture.Accuracy{}) {
		return
	}
	for _, w := range d.engine.watchers {
		v := w.judge.Verdict()
		if w.rule.Kind != d.name || v.Uncertainty == 0 {
			continue
		}
		if d.out.Verdict = v.Say; v.N == 1 {
			d.out.Uncertainty = v.Uncertainty
			d.out.Verdict += fmt.Sprintf(" ± %s (k = 2): %s", d.out.Unit.Text(v.Uncertainty, twoDigits(v.Uncertainty)), strings.ToLower(v.Outcome.Word()))
		}
	}
}

func (d *drawing) read(t float64, keep bool) {
	at := instant(t)
	if d.other != nil {
		v := d.other(t)
		d.take(at+100, capture.Reading{Channel: sketchBeside, Quantity: capture.DCVoltage, Value: v, Resolution: 0.001})
		if keep && d.quantity == capture.DCVoltage {
			d.out.Other = append(d.out.Other, capture.Point2{At: at, Value: v, Good: true})
		}
	}
	r := capture.Reading{Channel: sketchChannel, Quantity: d.quantity, Value: d.value(t), Resolution: cmp.Or(d.accuracy.Resolution, 0.0001)}
	good := !math.IsNaN(r.Value)
	if !good {
		r.Value, r.Flags = 0, capture.TimedOut
	}
	if d.limits != nil && d.limits(t) {
		r.Flags |= capture.Limiting
	}
	d.take(at+200, r)
	if keep || d.out.Spoke == at+200 {
		d.out.Points = append(d.out.Points, capture.Point2{At: at, Value: r.Value, Good: good})
	}
}

// opening is what a job says before its readings.
func (s sketch) opening() []capture.Item {
	rail := capture.Rail{Name: sketchRail, Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: capture.DefaultShortBelow}
	other := capture.Rail{Name: sketchOther, Nominal: 12, Target: 12, Bounds: capture.Bounds{Low: 11.4, High: 12.6}}
	sheet := capture.Sheet{Rails: []capture.Rail{rail, other}}
	every := time.Duration(math.Round(s.every * 1e9))
	channels := []capture.ChannelInfo{{ID: sketchChannel, Quantity: s.quantity, Every: every, Setpoint: s.name == "limiting"},
		{ID: sketchBeside, Quantity: capture.DCVoltage, Every: every}}
	if s.accuracy != (capture.Accuracy{}) {
		channels[0].Accuracy = []capture.Accuracy{s.accuracy}
	}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "meter", Channels: channels, AutoOff: 15 * time.Minute}}}
	stage, beside := capture.Soak, sketchOther
	if s.name == "short" {
		stage, beside = capture.ColdChecks, sketchRail
	}
	return []capture.Item{sheet, roster, capture.RuleSet{Rules: []capture.Rule{s.asRule(sheet, roster)}}, capture.Act{Verb: capture.ActStage, Stage: stage},
		capture.Act{Verb: capture.ActNull, Value: 0.1},
		capture.Placement{Channel: sketchChannel, Rail: sketchRail, Hold: capture.Clipped}, capture.Placement{Channel: sketchBeside, Rail: beside, Hold: capture.Clipped}}
}

// asRule is the rule that follows from the rail, or the kind's with its defaults.
func (s sketch) asRule(sheet capture.Sheet, roster capture.Roster) capture.Rule {
	for _, r := range Implied(sheet, roster) {
		if r.Kind == s.name && r.Rail == sketchRail {
			return r
		}
	}
	r := s.rule
	r.Name, r.Kind, r.Rail = s.name, s.name, sketchRail
	return r
}
