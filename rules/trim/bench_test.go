package trim_test

import (
	"math"
	"math/rand/v2"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trim"
)

const rail5 = "+5 V logic"

var start = capture.InstantOf(time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC))

// hand is a person at a multi-turn trimmer, written for these tests alone: its
// truth is known.
type hand struct {
	fold  *trim.Fold
	now   capture.Instant
	every time.Duration
	rnd   *rand.Rand
	noise float64
	ratio float64 // of the rail's sign: -1 on a negative rail

	volts, perTurn, slack float64
	screw, wiper          float64
	blade, shift          float64 // offset while the blade is in; of the load
	ordinal               uint64
}

func newHand(rail string, noise float64) *hand {
	h := &hand{fold: &trim.Fold{}, now: start, every: 200 * time.Millisecond, rnd: rand.New(rand.NewPCG(7, 9)), noise: noise, ratio: 1, volts: 4.900, perTurn: 0.040}
	rails, err := capture.ParseRails(rail)
	if err != nil {
		panic(err)
	}
	if rails[0].Nominal < 0 {
		h.ratio = -1
	}
	info := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: h.every, Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.00025, Digits: 3, Resolution: 0.0001}}}
	h.post(capture.Sheet{Job: "AB-0147", Rails: rails})
	h.post(capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{info}}}})
	h.post(capture.Placement{Channel: "dmm/volts", Rail: rails[0].Name, Hold: capture.Clipped})
	return h
}

func (h *hand) post(it capture.Item) {
	h.now = h.now.Add(time.Millisecond)
	h.fold.Consume(capture.Record{At: h.now, Job: "AB-0147", Item: it})
}

func (h *hand) act(v capture.Verb, subject, text string, value float64) {
	h.post(capture.Act{Verb: v, Subject: subject, Text: text, Value: value})
}

// step lets one interval pass and reads.
func (h *hand) step() {
	h.now = h.now.Add(h.every)
	v := h.volts + float64(h.perTurn*h.wiper) + h.shift + h.blade + float64(h.noise*h.rnd.NormFloat64())
	v = h.ratio * math.Round(v*1e4) / 1e4
	h.ordinal++
	h.fold.Consume(capture.Record{At: h.now, Job: "AB-0147", Item: capture.Reading{
		Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: 0.0001, Range: 10, Measured: h.now.Add(-20 * time.Millisecond), Ordinal: h.ordinal,
	}})
}

func (h *hand) wait(d time.Duration) {
	for end := h.now.Add(d); h.now < end; {
		h.step()
	}
}

// turn turns at a turn a second and lifts the blade.
func (h *hand) turn(turns float64) {
	for left := math.Abs(turns); left > 1e-9; {
		d := min(left, h.every.Seconds())
		left -= d
		h.screw += math.Copysign(d, turns)
		h.wiper = min(max(h.wiper, h.screw-h.slack/2), h.screw+h.slack/2)
		h.step()
	}
}

func (h *hand) state(rail string) capture.Trimming {
	s, ok := h.fold.State(rail, h.now)
	if !ok {
		panic("no rail " + rail)
	}
	return s
}
