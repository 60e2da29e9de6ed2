package rules

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// tripping is a soak of 96 s with three rails: +5 V logic and +12 V audio on meters
// of their own, +3.3 V DSP behind +5 V logic. A supply with one output feeds them
// and is read every half second.
type tripping struct {
	twelveFrom string  // what the sheet says feeds +12 V audio
	fell       float64 // when +5 V and +3.3 V fall, s
	twelve     float64 // when +12 V falls, s
	dip        float64 // when +12 V dips for 0.2 s besides, s; 0: never
	off        float64 // when the supply's own terminals fall, s
	found      float64 // when it is found off, s; 0: never
	held       float64 // what the set's capacitors hold at its terminals then, V
	second     string  // another output that is on
	output     string  // that trips
	unread     bool    // nobody reads the supply
}

func (c tripping) dossier(t *testing.T) (capture.Dossier, *shelfJob) {
	t.Helper()
	twelve := capture.Rail{Name: "+12 V audio", Nominal: 12, Target: 12, Bounds: capture.Bounds{Low: 11.4, High: 12.6}, FedFrom: c.twelveFrom}
	log := opening(nil, five, twelve, dsp)
	roster := log[1].Item.(capture.Roster)
	for _, name := range []string{"dmm3", "supply", "aux"} {
		roster.Instruments = append(roster.Instruments, capture.InstrumentInfo{Name: name, Channels: []capture.ChannelInfo{{ID: capture.ChannelID(name + "/volts"), Quantity: capture.DCVoltage, Every: 500 * time.Millisecond, Setpoint: name != "dmm3"}}})
	}
	log[1].Item = roster
	set := log[2].Item.(capture.RuleSet)
	add := func(sec float64, item capture.Item) { log = append(log, capture.Record{At: at(sec), Item: item}) }
	add(0.5, capture.Placement{Channel: "dmm2/volts", Rail: twelve.Name, Hold: capture.Clipped})
	add(0.6, capture.Placement{Channel: "dmm3/volts", Rail: dsp.Name, Hold: capture.Clipped})
	add(0.7, capture.Act{Verb: capture.ActLimits, Subject: c.output, Text: "volts 24, over-current 2 (on)"})
	add(0.8, capture.Act{Verb: capture.ActOutput, Subject: c.output, Text: "on", By: "R. Hale"})
	if c.second != "" { // nobody knows which of the two feeds what
		add(0.9, capture.Act{Verb: capture.ActOutput, Subject: c.second, Text: "on", By: "R. Hale"})
	}
	for s := 1.0; s < 60; s += 0.2 {
		for i, r := range []struct {
			ch       string
			v, fells float64
		}{{"dmm/volts", 5, c.fell}, {"dmm3/volts", 3.3, c.fell}, {"dmm2/volts", 12, c.twelve}} {
			if dips := r.ch == "dmm2/volts" && c.dip != 0 && s > c.dip-0.05 && s < c.dip+0.15; dips || s >= r.fells {
				r.v = 0.2
			}
			rec := volts(r.ch, r.v)
			log = append(log, capture.Record{At: at(s) + capture.Instant(10_000*(i+1)), Item: rec})
		}
	}
	for s := 1.01; s < 60 && !c.unread; s += 0.5 {
		v := 24.0
		if s >= c.off {
			v = max(0.1, c.held)
		}
		add(s, volts("supply/volts", v))
	}
	if c.found != 0 {
		set.Rules = append(slices.Clone(set.Rules), capture.Rule{Name: "found off supply", Kind: "found off", Rail: five.Name, Severity: capture.Urgent, Against: c.output, Implied: true})
		add(c.found-0.001, set)
		add(c.found, capture.Act{Verb: capture.ActReadBack, Subject: c.output, Text: "output off, tripped: over-current", By: capture.ByTrip})
	}
	sortLog(log)
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	d, err := BuildDossier(bg, job, Told{Soaks: []SoakSpan{{From: at(2), To: at(58)}}})
	if err != nil {
		t.Fatal(err)
	}
	return d, job
}

// One trip of a supply is one failure, though its rails are seen to fall before it
// is found off. What cannot have come from it is counted on its own: what fell while
// the output was surely on, what stood long after, what another source feeds.
func TestOneTripOfASupplyIsOneFailure(t *testing.T) {
	trip := tripping{output: "supply", fell: 30, twelve: 30, off: 30, found: 30.15}
	for name, c := range map[string]struct {
		change   func(*tripping)
		failures int
		with     string // what fell at the same time
	}{
		"before it was found off":              {func(*tripping) {}, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"after it was found off":               {func(c *tripping) { c.twelve = 33 }, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"by the sheet, beside another":         {func(c *tripping) { c.twelveFrom, c.second = "supply", "aux" }, 2, "+12 V audio fell at the same time"},
		"asked late, with a doubt before":      {func(c *tripping) { c.found = 45 }, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"held up by capacitors at first":       {func(c *tripping) { c.held, c.off, c.found = 14, 29.5, 31.6 }, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"never found off":                      {func(c *tripping) { c.found = 0 }, 2, ""},
		"fallen while it was surely on":        {func(c *tripping) { c.twelve = 28 }, 2, "+5 V logic and +3.3 V DSP fell at the same time"},
		"stands long after":                    {func(c *tripping) { c.twelve = 45 }, 2, "+5 V logic and +3.3 V DSP fell at the same time"},
		"dipped and back before it was off":    {func(c *tripping) { c.dip, c.fell, c.twelve = 29.6, 30.2, 30.2 }, 2, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"of several outputs":                   {func(c *tripping) { c.output = "supply/1" }, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"of several, fallen while all were on": {func(c *tripping) { c.output, c.twelve = "supply/1", 25 }, 2, "+5 V logic and +3.3 V DSP fell at the same time"},
		"fed by another supply":                {func(c *tripping) { c.twelveFrom = "aux" }, 2, "+5 V logic and +3.3 V DSP fell at the same time"},
		"fed from the mains":                   {func(c *tripping) { c.twelveFrom = "mains" }, 2, "+5 V logic and +3.3 V DSP fell at the same time"},
		"fed by nobody knows which of two":     {func(c *tripping) { c.second = "aux" }, 2, ""},
		"of one that nobody read":              {func(c *tripping) { c.unread, c.found = true, 40 }, 2, ""},
		"of one that nobody read, at once":     {func(c *tripping) { c.unread = true }, 1, "+5 V logic, +12 V audio and +3.3 V DSP fell at the same time"},
		"longer ago than it is not asked":      {func(c *tripping) { c.off, c.found = 58, 58.15 }, 2, ""},
		"found off, and nothing fell at all":   {func(c *tripping) { c.fell, c.twelve = 99, 99 }, 0, ""},
	} {
		one := trip
		c.change(&one)
		d, job := one.dossier(t)
		if live := countedLive(t, job); live != c.failures {
			t.Errorf("%s: %d failures while it lasts, want %d", name, live, c.failures)
		}
		said := plain(strings.Join(d.Soak.Say, " "))
		if d.Soak.Failures != c.failures || strings.Contains(said, "fell at the same time") != (c.with != "") || !strings.Contains(said, c.with) {
			t.Errorf("%s: %d failures, want %d: %s", name, d.Soak.Failures, c.failures, said)
		}
		if c.failures == 1 && strings.Contains(said, "fell first") {
			t.Errorf("%s: asks which fell first: %s", name, said)
		}
		stray := slices.ContainsFunc(d.Rails[0].Verdicts, func(v capture.Verdict) bool { return v.Kind == "found off" })
		if stray || c.failures == 1 && (len(d.Outputs) != 1 || d.Outputs[0].Output != one.output || len(d.Outputs[0].Rails) != 3 || d.Outputs[0].Verdict.Outcome != capture.Fail) {
			t.Errorf("%s: of the first rail %v, outputs %+v", name, stray, d.Outputs)
		}
		for _, a := range d.Alarms {
			if c.failures == 1 && a.Kind == "collapse" && a.Untold() == "" && !strings.HasPrefix(a.Follows, "found off supply@") {
				t.Errorf("%s: %s follows from %q", name, a.Say, a.Follows)
			}
			if a.Kind == "found off" && a.Follows != "" {
				t.Errorf("%s: %s follows from %q", name, a.Say, a.Follows)
			}
		}
	}
}

// countedLive is what is counted at the end of the soak of [tripping], by somebody who
// asked all the while.
func countedLive(t *testing.T, job *shelfJob) (n int) {
	t.Helper()
	var tally SoakTally
	var count SoakCount
	sofar := &shelfJob{}
	for i, rec := range job.log {
		for _, tr := range job.transitions {
			if len(sofar.log) > 0 && tr.At < rec.At && tr.At >= sofar.log[i-1].At {
				sofar.transitions = append(sofar.transitions, tr)
				tally.Fell()
			}
		}
		tally.Consume(rec)
		sofar.log = append(sofar.log, rec)
		if i%50 == 0 || i == len(job.log)-1 {
			var err error
			if n, err = count.Count(bg, sofar, tally.Clone(), at(2), 0); err != nil {
				t.Fatal(err)
			}
		}
	}
	return n
}

// What had fallen before a soak and stayed down is counted in it once, and not what
// had come back.
func TestWhatStayedDownIsCounted(t *testing.T) {
	step := func(sec float64, rail, kind string, from, to capture.AlarmState) capture.Transition {
		return capture.Transition{At: at(sec), Alarm: capture.AlarmID(kind+" "+rail, at(sec)), Kind: kind, Rail: rail, From: from, To: to}
	}
	down, back := step(1, five.Name, "missing", capture.Normal, capture.Active), step(3, five.Name, "missing", capture.Active, capture.Normal)
	back.Alarm = down.Alarm
	band := step(1, five.Name, "band", capture.Normal, capture.Active)
	for name, c := range map[string]struct {
		list []capture.Transition
		want int
	}{
		"down by two rules": {[]capture.Transition{down, band}, 1},
		"back before it":    {[]capture.Transition{down, back}, 0},
		"and fell again":    {[]capture.Transition{down, back, step(6, five.Name, "collapse", capture.Normal, capture.Active)}, 1},
		"another kind":      {[]capture.Transition{step(1, five.Name, "ripple", capture.Normal, capture.Active)}, 0},
	} {
		var tally SoakTally
		tally.Consume(capture.Record{Item: capture.Sheet{Rails: []capture.Rail{five}}})
		if n, err := new(SoakCount).Count(bg, &shelfJob{transitions: c.list}, tally, at(5), at(9)); n != c.want || err != nil {
			t.Errorf("%s: %d, want %d, %v", name, n, c.want, err)
		}
	}
}

// A fall that no alarm tells of is not the supply's either, when its rail was back
// before the supply was found off.
func TestAFallBackBeforeItWasOffIsNotCarried(t *testing.T) {
	var b builder
	b.outages.list = []outage{{output: "supply", from: at(20), found: at(30), alone: true, carried: []string{dsp.Name}}}
	for to, carried := range map[float64]bool{25: false, 45: true} {
		if got := b.carriedBy(fall{rail: five, from: at(24), to: at(to)}); got != carried {
			t.Errorf("back at %v s: carried %v", to, got)
		}
	}
}
