package coverage

import (
	"math/bits"
	"slices"
	"time"

	"steadyrail/capture"
)

// Statistics takes the good values of a channel in order of time; the moments
// of rules/trend do. Nil leaves mean, scatter and effective number at 0.
type Statistics interface {
	Add(v float64)
	Mean() float64
	SD() float64
	Lag1() float64
	Effective() float64
}

// The defaults of [Options].
const (
	DefaultDepth     = 0.5 // a dip to half
	DefaultThreshold = 0.2 // shows when it moves a reading by a fifth
)

// Lengths are the dips whose chance every watch states.
var Lengths = [...]time.Duration{10 * time.Millisecond, 50 * time.Millisecond, 100 * time.Millisecond}

// Options of a watch. Zero fields take their defaults.
type Options struct {
	// Aperture is for how long the channel looks at its input for one reading; 0:
	// not known. The time that a meter takes for its own zero is none of it: with
	// auto-zero one that never rests looks half of the time.
	Aperture   time.Duration
	Depth      float64       // of the dip that is spoken of, share of the value
	Threshold  float64       // share by which a reading must move for the dip to show
	Every      time.Duration // from poll to poll, as planned; 0: not known
	Bounds     capture.Bounds
	Statistics Statistics
}

// Builder turns the readings of one channel over one span into a
// [capture.Watch], each reading once, in constant space.
type Builder struct {
	o        Options
	watch    capture.Watch
	last     capture.Instant       // middle of the newest good reading, or the start
	answered capture.Instant       // when it was answered
	reach    [len(Lengths)]float64 // of one reading, seconds
	reached  [len(Lengths)]float64 // of all of them
	looked   time.Duration         // sum of apertures
	spacings map[uint32]spacing
}

// New starts a watch of a channel at an instant.
func New(ch capture.ChannelID, from capture.Instant, o Options) *Builder {
	if !(o.Depth > 0) {
		o.Depth = DefaultDepth
	}
	if !(o.Threshold > 0) {
		o.Threshold = DefaultThreshold
	}
	b := &Builder{o: o, last: from, answered: from, spacings: map[uint32]spacing{},
		watch: capture.Watch{Channel: ch, From: from, GapAt: from, Aperture: o.Aperture, DipDepth: o.Depth}}
	for i, d := range Lengths {
		b.reach[i] = reach(d, o.Aperture, o.Depth, o.Threshold)
	}
	return b
}

// Add takes the next reading and when it was answered. A reading that may not
// be judged counts as bad and leaves the gap open.
func (b *Builder) Add(answered capture.Instant, r capture.Reading) {
	w := &b.watch
	if !r.Good() {
		w.Bad++
		return
	}
	w.N++
	if b.o.Statistics != nil {
		b.o.Statistics.Add(r.Value)
	}
	if w.N == 1 || r.Value < w.Min {
		w.Min, w.MinAt = r.Value, answered
	}
	if w.N == 1 || r.Value > w.Max {
		w.Max, w.MaxAt = r.Value, answered
	}
	if in := b.o.Bounds; in.Low < in.High && !in.Contains(r.Value) {
		w.Outside++
	}
	w.Resolution = max(w.Resolution, r.Resolution)
	b.looked += b.o.Aperture
	b.advance(answered, r.Measured)
}

// Idle takes a reading of a rail that somebody has switched off: the meter looked,
// and a figure of the rail at work it is not.
func (b *Builder) Idle(answered capture.Instant, r capture.Reading) {
	if !r.Good() {
		b.watch.Bad++
		return
	}
	b.looked += b.o.Aperture
	b.advance(answered, r.Measured)
}

// advance closes the gap before a good reading. The middle of the aperture
// orders what the meter saw; where it is not known or goes backwards, the
// answer's instant does.
func (b *Builder) advance(answered, measured capture.Instant) {
	at := measured
	if at.IsZero() || at > answered || at <= b.last {
		at = max(answered, b.last)
	}
	gap := at.Sub(b.last)
	b.longest(gap, b.answered)
	if b.watch.N > 1 {
		b.count(gap)
		for i := range Lengths {
			b.reached[i] += min(gap.Seconds(), b.reach[i])
		}
	}
	b.last, b.answered = at, answered
}

func (b *Builder) longest(gap time.Duration, at capture.Instant) {
	if gap > b.watch.LongestGap {
		b.watch.LongestGap, b.watch.GapAt = gap, at
	}
}

// Blind takes a stretch in which the record is known to be incomplete. Silence
// shows by itself; this is for readings that were taken and then lost, so it
// also takes back what was claimed for the stretch.
func (b *Builder) Blind(from, to capture.Instant) {
	from = max(from, b.watch.From)
	if to <= from {
		return
	}
	b.longest(to.Sub(from), from)
	lost := min(to, b.last).Sub(from).Seconds()
	if lost <= 0 {
		return
	}
	gap := b.interval().Seconds()
	if gap <= 0 {
		return
	}
	for i := range Lengths {
		b.reached[i] = max(0, b.reached[i]-float64(lost*min(1, b.reach[i]/gap)))
	}
	b.looked = max(0, b.looked-time.Duration(lost/gap*float64(b.o.Aperture)))
}

// Watch returns what can be said at an instant. The builder goes on; a later
// call tells of a longer span.
func (b *Builder) Watch(to capture.Instant) capture.Watch {
	w := b.watch
	w.To = max(to, b.answered)
	span := w.To.Sub(w.From)
	if gap := w.To.Sub(b.last); gap > w.LongestGap {
		w.LongestGap, w.GapAt = gap, b.answered
	}
	if s := b.o.Statistics; s != nil && w.N > 0 {
		w.Mean, w.SD, w.Lag1, w.Effective = s.Mean(), s.SD(), s.Lag1(), s.Effective()
	}
	w.Interval = b.interval()
	if span <= 0 {
		return w
	}
	w.Observed = min(1, b.looked.Seconds()/span.Seconds())
	w.Answered = min(1, float64(w.N)*b.o.Every.Seconds()/span.Seconds())
	if w.N > 0 {
		w.SureDip, _ = SureDip(b.o.Aperture, w.LongestGap, b.o.Depth, b.o.Threshold)
	}
	if b.o.Aperture > 0 {
		w.Chance = make([]capture.DipChance, len(Lengths))
		for i, d := range Lengths {
			w.Chance[i] = capture.DipChance{Length: d, Seen: min(1, b.reached[i]/span.Seconds())}
		}
	}
	return w
}

// spacing counts intervals of about one length; the mean of a bin is exact
// where polling is.
type spacing struct {
	n   int
	sum time.Duration
}

// count files a spacing in bins of less than 1 %, by its leading eight bits.
func (b *Builder) count(gap time.Duration) {
	us := uint64(max(0, gap/time.Microsecond))
	shift := max(0, bits.Len64(us)-8)
	key := uint32(shift)<<8 | uint32(us>>shift)
	s := b.spacings[key]
	s.n++
	s.sum += gap
	b.spacings[key] = s
}

// interval is the median spacing of good readings.
func (b *Builder) interval() time.Duration {
	keys := make([]uint32, 0, len(b.spacings))
	for k := range b.spacings {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	left := (b.watch.N - 1) / 2
	for _, k := range keys {
		s := b.spacings[k]
		if left < s.n {
			return s.sum / time.Duration(s.n)
		}
		left -= s.n
	}
	return 0
}
