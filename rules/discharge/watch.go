package discharge

import (
	"math"
	"sync"
	"time"

	"steadyrail/capture"
)

// What the watch goes by (the project's own choice where nothing else is said).
const (
	// heldFor is how long it must stay below the level, and heldReadings how many
	// readings must show it.
	heldFor      = 3 * time.Second
	heldReadings = 5
	// hole between readings begins the holding anew.
	hole = 2 * time.Second
	// slow and fast are how far the time constant may be from R C: electrolytic
	// capacitors are sold with ±20 % (common practice), and two in a row, a warm
	// resistor and a meter's own load come on top.
	slow = 1.5
	fast = 0.6
	// tail is the part of the first value below which the curve is not compared:
	// the dielectric gives back some per cent (absorption, common practice).
	tail = 0.05
	// began is the fall that shows that the resistor has contact.
	began = 0.97
	// stands is how long it may wait before that is said.
	stands = 5 * time.Second
	// proofLasts is how old the proof of the meter may be when the watch begins.
	proofLasts = 30 * time.Minute
	// mostPoints bounds the curve that is kept for the screen.
	mostPoints = 240
)

// Phase names what the voltage does.
type Phase string

// The phases.
const (
	None    Phase = ""        // no discharge was begun
	Waiting Phase = "waiting" // no reading since it began
	Stands  Phase = "stands"  // it does not fall yet
	Falling Phase = "falling" // as R and C say
	Slower  Phase = "slower"
	Faster  Phase = "faster"
	Rising  Phase = "rising"
	Below   Phase = "below" // the level, not long enough yet
	Held    Phase = "held"  // below the level for some seconds
	Back    Phase = "back"  // above the level again after it was held
	Ended   Phase = "ended" // by a person, or the meter left it
)

// Point is a reading beside what R and C say.
type Point struct {
	At       capture.Instant
	Volts    float64 // magnitude
	Expected float64 // 0: the fall has not begun
}

// trial is a proof of the meter with its time.
type trial struct {
	at capture.Instant
	capture.MeterProof
}

// Watch folds the records of a job into its newest discharge. The zero value is
// ready.
type Watch struct {
	mu     sync.Mutex
	trials map[capture.ChannelID]trial // the newest of each channel; looked up only
	lost   map[capture.ChannelID]capture.Instant
	places map[capture.ChannelID]stood
	now    run
}

// stood is where a channel is, and since when.
type stood struct {
	at capture.Instant
	capture.Placement
}

// run is one discharge.
type run struct {
	card    capture.Discharge
	began   capture.Instant
	place   capture.Placement // that it rests on
	placed  capture.Instant   // of it
	astray  bool              // that placement was corrected: it was not on the capacitor
	before  trial
	after   trial
	start   Point // the reading that the curve begins at; zero: no fall yet
	first   float64
	last    Point
	res     float64
	why     capture.Flags // of a newest reading without value
	lowest  float64
	lowAt   capture.Instant
	top     float64 // greatest since the lowest
	below   capture.Instant
	count   int
	held    capture.Instant // 0: not
	backAt  capture.Instant
	backTo  float64
	parted  Phase
	fell    bool // it was seen to fall
	left    capture.Instant
	ended   capture.Instant
	points  []Point
	skipped int
}

// Consume takes the next record of the job.
func (w *Watch) Consume(rec capture.Record) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch it := rec.Item.(type) {
	case capture.Reading:
		if it.Channel == w.now.card.Channel && w.now.running() {
			w.now.read(rec.At, it)
		}
	case capture.Placement:
		w.place(rec.At, it)
	case capture.Act:
		w.act(rec.At, it)
	}
}

func (w *Watch) act(at capture.Instant, act capture.Act) {
	switch act.Verb {
	case capture.ActDischarge:
		if card, err := capture.ParseDischarge(act.Text); err == nil {
			w.begin(at, card)
		}
	case capture.ActProve:
		if p, err := capture.ParseMeterProof(act.Text); err == nil {
			w.proved(capture.ChannelID(act.Subject), trial{at, p})
		}
	case capture.ActDischarged:
		if w.now.began != 0 && w.now.ended == 0 {
			w.now.ended = at
		}
	case capture.ActLinkLost:
		w.lose(at, act.Subject)
	}
}

// begin takes the newest proof along when it still holds: of this channel, not
// too old, and the meter was not away since.
func (w *Watch) begin(at capture.Instant, card capture.Discharge) {
	before := w.trials[card.Channel]
	if before.at != 0 && (at.Sub(before.at) > proofLasts || w.lost[card.Channel] > before.at) {
		before = trial{}
	}
	w.now = run{card: card, began: at, placed: w.places[card.Channel].at, place: w.places[card.Channel].Placement, before: before}
}

func (w *Watch) proved(ch capture.ChannelID, t trial) {
	if w.trials == nil {
		w.trials = map[capture.ChannelID]trial{}
	}
	w.trials[ch] = t
	if ch == w.now.card.Channel && w.now.held != 0 {
		w.now.after = t
	}
}

func (w *Watch) lose(at capture.Instant, instrument string) {
	if w.lost == nil {
		w.lost = map[capture.ChannelID]capture.Instant{}
	}
	for ch := range w.trials { // writes only: the order does not matter
		if ch.Instrument() == instrument {
			w.lost[ch] = at
		}
	}
	if w.now.running() && w.now.card.Channel.Instrument() == instrument {
		w.now.below, w.now.count = 0, 0
	}
}

// running reports whether readings still count for the capacitor.
func (r *run) running() bool { return r.began != 0 && r.left == 0 && r.ended == 0 }

// place ends the watch when the channel goes elsewhere.
func (w *Watch) place(at capture.Instant, p capture.Placement) {
	old := w.places[p.Channel]
	if p.Corrects != 0 {
		if w.now.began != 0 && p.Channel == w.now.card.Channel && p.Corrects == w.now.placed && !samePlace(p, w.now.place) {
			w.now.withdraw(at)
		}
		return
	}
	if w.now.running() && p.Channel == w.now.card.Channel && !samePlace(p, old.Placement) {
		w.now.left = at
	}
	if w.places == nil {
		w.places = map[capture.ChannelID]stood{}
	}
	w.places[p.Channel] = stood{at, p}
}

func samePlace(a, b capture.Placement) bool { return a.Rail == b.Rail && a.Point == b.Point }

// withdraw takes back what was measured: the probes were elsewhere all the time.
func (r *run) withdraw(at capture.Instant) {
	r.astray, r.held, r.after = true, 0, trial{}
	if r.left == 0 {
		r.left = at
	}
}

// read takes a reading of the capacitor.
func (r *run) read(at capture.Instant, it capture.Reading) {
	if !it.HasValue() || it.Quantity != capture.DCVoltage || it.Flags.Has(capture.NoVerdict) {
		r.why, r.below, r.count = it.Flags, 0, 0
		if it.Flags.Has(capture.OverRange | capture.UnderRange) { // no leads that hang free: volts, and many
			r.held, r.after = 0, trial{}
		}
		return
	}
	p := Point{At: it.Measured, Volts: math.Abs(it.Value)}
	if r.last.At != 0 && p.At.Sub(r.last.At) > hole {
		r.below, r.count = 0, 0
	}
	r.why, r.res = 0, it.Resolution
	r.compare(&p, it)
	r.extremes(p)
	r.level(at, p)
	r.last = p
	r.keep(p)
}

// level counts how long it stays below. Three steps of the meter are kept off:
// a display of 0.05 V may be 0.06 V.
func (r *run) level(at capture.Instant, p Point) {
	if p.Volts+float64(3*r.res) >= r.card.Level {
		if r.held != 0 && p.Volts >= r.card.Level {
			r.backAt, r.backTo = at, max(r.backTo, p.Volts)
			r.held, r.after = 0, trial{}
		}
		if p.Volts >= r.card.Level {
			r.below, r.count = 0, 0
		}
		return
	}
	if r.count == 0 {
		r.below = at
	}
	r.count++
	if r.held == 0 && r.count >= heldReadings && at.Sub(r.below) >= heldFor {
		r.held = at
	}
}
