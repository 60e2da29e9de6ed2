package rules

import (
	"math"
	"slices"
	"time"

	"steadyrail/capture"
)

// outage is one trip of a supply: its output was found off though nothing here had
// switched it off. It happened between from and found; what it fed fell then.
type outage struct {
	output  string
	from    capture.Instant // when the output was surely still on
	found   capture.Instant // when it was read back as off
	to      capture.Instant // when it was switched by hand since; 0: it was not
	alone   bool            // no other output of the job was on
	alarm   string          // that tells of it; empty: none
	carried []string        // rails that fell at the same time
}

// holdUp is how long a rail may stay in its band on its own capacitors once its
// supply is off: common practice, bulk capacitors of a bench set at a light load.
// One that stands longer is fed by something else.
const holdUp = sameFall

// outages finds the trips of supplies in a record. The zero value is ready.
type outages struct {
	doubts OutputDoubts
	roster capture.Roster
	up     map[string]capture.Instant     // when an output was surely on last; looked up, never ranged over
	reads  map[capture.ChannelID]terminal // of supplies with several outputs; looked up, never ranged over
	seen   map[string]bool                // outputs whose supply was read since they were switched; looked up, never ranged over
	list   []outage
}

// terminal is what a channel of a supply reads since something was done with it.
type terminal struct {
	at   capture.Instant // of the newest
	v    float64         // V, without its sign
	high float64         // V, the most of them
}

// up reports whether there was anything at the terminals, and whether some of it is
// gone, see [surelyOn].
func (t terminal) up() (was, gone bool) {
	return t.high >= nothingSet, t.v < float64(surelyOn*t.high)
}

func (o *outages) take(rec capture.Record) {
	switch it := rec.Item.(type) {
	case capture.Roster:
		o.roster = merged(o.roster, it)
	case capture.Reading:
		if it.Quantity == capture.DCVoltage && it.Good() {
			o.read(rec.At, &it)
		}
	case capture.Act:
		was := o.doubts.On(it.Subject)
		o.doubts.act(it)
		if it.Verb == capture.ActOutput || it.Verb == capture.ActLimits {
			o.anew(it.Instrument())
		}
		switch it.Verb {
		case capture.ActOutput:
			o.switched(rec.At, it)
		case capture.ActReadBack:
			if was && capture.FoundOff(it.Text) {
				o.found(rec.At, it.Subject)
			}
		}
	}
}

// switched ends the outages of an output that somebody switches.
func (o *outages) switched(at capture.Instant, act capture.Act) {
	for i := range o.list {
		if o.list[i].to == 0 && act.Concerns(o.list[i].output) {
			o.list[i].to = at
		}
	}
	delete(o.seen, act.Subject)
	if act.Text == "on" {
		o.surely(act.Subject, at)
	}
}

// surelyOn is the part of what was set that an output which is on stands at. Half of
// it proves nothing: capacitors of the set hold the terminals for a moment up there
// when the output has gone, while converters behind them have stopped already.
const surelyOn = 0.95

// read takes what a supply reads at its own terminals. Where nothing was set here,
// what one output reads proves nothing.
func (o *outages) read(at capture.Instant, r *capture.Reading) {
	sampled, v := r.Sampled(at).Add(-r.HalfWidth), math.Abs(r.Value)
	for i := range o.doubts.on {
		s := &o.doubts.on[i]
		instrument := (capture.Act{Subject: s.output}).Instrument()
		if !s.is || instrument != r.Channel.Instrument() {
			continue
		}
		o.see(s.output)
		switch {
		case s.output != instrument:
			o.several(instrument, s.output, r.Channel, terminal{at: sampled, v: v})
		case s.set > 0 && v >= float64(surelyOn*s.set):
			o.surely(s.output, sampled)
		}
	}
}

// several takes a reading of a supply with several outputs. Which of them a channel
// is of the record does not say; while no channel has lost what it had, none of the
// outputs went off.
func (o *outages) several(instrument, output string, id capture.ChannelID, now terminal) {
	if o.reads == nil {
		o.reads = map[capture.ChannelID]terminal{}
	}
	now.high = max(now.v, o.reads[id].high)
	o.reads[id] = now
	in, _ := o.roster.Instrument(instrument)
	var since capture.Instant
	for _, ch := range in.Channels {
		if ch.Quantity != capture.DCVoltage {
			continue
		}
		t, read := o.reads[ch.ID]
		was, gone := t.up()
		if !read || was && gone {
			return
		}
		if was && (since == 0 || t.at < since) {
			since = t.at
		}
	}
	if since != 0 {
		o.surely(output, since)
	}
}

// anew forgets what a supply had at its terminals: something else is to be there.
func (o *outages) anew(instrument string) {
	in, _ := o.roster.Instrument(instrument)
	for _, ch := range in.Channels {
		delete(o.reads, ch.ID)
	}
}

func (o *outages) surely(output string, at capture.Instant) {
	if o.up == nil {
		o.up = map[string]capture.Instant{}
	}
	o.up[output] = max(o.up[output], at)
}

func (o *outages) see(output string) {
	if o.seen == nil {
		o.seen = map[string]bool{}
	}
	o.seen[output] = true
}

func (o *outages) found(at capture.Instant, output string) {
	others := func(s switchedOn) bool { return s.is && s.output != output }
	o.list = append(o.list, outage{output: output, from: o.since(at, output), found: at, alone: !slices.ContainsFunc(o.doubts.on, others)})
}

// since returns from when on an output that is found off may have been so. What asked
// after one that nobody read was no doubt about it, such as a link that came back:
// then nothing but its being switched on bounds it, and long after that nobody knows
// when it went off.
func (o *outages) since(found capture.Instant, output string) capture.Instant {
	up, asked := o.up[output], found.Add(-o.asking(output))
	if up < asked && !o.seen[output] {
		return found.Add(-together)
	}
	return max(up, asked)
}

// asking is how long an output may be off at the most before it is found so: until
// its terminals are read the next time, until it may be asked again while there was
// a doubt before ([askSeldom]), and until the answer is there.
func (o *outages) asking(output string) time.Duration {
	var every time.Duration
	in, _ := o.roster.Instrument((capture.Act{Subject: output}).Instrument())
	for _, ch := range in.Channels {
		if ch.Quantity == capture.DCVoltage {
			every = max(every, ch.Every)
		}
	}
	return every + askSeldom + together
}

// carries reports whether a rail may hang on the output: by what feeds it on the
// sheet, or, where the sheet does not say, because no other output of the job was on.
func (o *outages) carries(out *outage, sheet capture.Sheet, rail capture.Rail) bool {
	known := func(name string) bool {
		_, is := o.roster.Instrument(name)
		return is
	}
	feeds, said := sheet.Feeds(out.output, rail, known)
	return feeds && (said || out.alone)
}
