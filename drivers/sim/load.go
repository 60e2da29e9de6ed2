package sim

import (
	"math/rand/v2"
	"time"

	"steadyrail/capture"
)

// load is what the set wants from its rails, in ampere at nominal voltage. It
// changes as the piano is played: idle, a piece with notes in it, idle.
type load struct {
	r       *rand.Rand
	playing bool
	notes   float64 // sum of the notes that sound now, 0 and up
	extra   float64 // A on +5 V, by a fault

	inReset bool // the logic is held in reset
	reset   capture.Instant
}

// What the set draws. The figures are plain ones for a small instrument.
const (
	logicIdle, logicPlaying, logicNote = 0.85, 1.05, 0.25 // A on +5 V
	dspIdle, dspPlaying, dspNote       = 0.33, 0.45, 0.06 // A on +3.3 V
	audioIdle, audioPlaying, audioNote = 0.10, 0.16, 0.20 // A on ±12 V
	mainBoardLogic                     = 0.10             // A on +5 V with CN3 unplugged
	inResetShare                       = 0.45             // of the logic current while it is held in reset

	// A supervisor with the usual 4.38 V threshold holds the logic for a
	// second after the rail is back.
	resetBelow = 4.38
	resetAbove = 4.45
	resetHold  = 1200 * time.Millisecond
)

func newLoad(seed uint64) load {
	return load{r: stream(seed, "the pianist"), inReset: true}
}

// begin schedules the first piece.
func (l *load) begin(w *world) {
	w.schedule(w.now.Add(seconds(between(l.r, 20, 60))), func() { l.play(w) })
}

func (l *load) play(w *world) {
	l.playing = true
	end := w.now.Add(seconds(between(l.r, 40, 150)))
	l.nextNote(w, end)
	w.schedule(end, func() {
		l.playing = false
		w.schedule(w.now.Add(seconds(between(l.r, 20, 90))), func() { l.play(w) })
	})
}

func (l *load) nextNote(w *world, end capture.Instant) {
	at := w.now.Add(seconds(l.r.ExpFloat64() / 2.5))
	if at >= end {
		return
	}
	w.schedule(at, func() {
		size := between(l.r, 0.3, 1)
		l.notes += size
		w.schedule(w.now.Add(seconds(between(l.r, 0.03, 0.25))), func() { l.notes -= size })
		l.nextNote(w, end)
	})
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// supervise holds or releases the logic's reset by the +5 V rail.
func (l *load) supervise(now capture.Instant, v5 float64) {
	switch {
	case v5 < resetBelow:
		l.inReset, l.reset = true, 0
	case l.inReset && v5 >= resetAbove && l.reset == 0:
		l.reset = now.Add(resetHold)
	case l.inReset && l.reset != 0 && now >= l.reset:
		l.inReset = false
	}
}

func (l *load) pick(idle, playing, note float64) float64 {
	if l.inReset || !l.playing {
		return idle
	}
	return playing + note*l.notes
}

// logic is the current that the semiconductors on +5 V want.
func (l *load) logic(loadBoard bool) float64 {
	if !loadBoard {
		return mainBoardLogic + l.extra
	}
	i := l.pick(logicIdle, logicPlaying, logicNote)
	if l.inReset {
		i *= inResetShare
	}
	return i + l.extra
}

func (l *load) dsp() float64   { return l.pick(dspIdle, dspPlaying, dspNote) }
func (l *load) audio() float64 { return l.pick(audioIdle, audioPlaying, audioNote) }

// conduct is the share of its current that a load of semiconductors takes at
// a voltage: nothing below a junction or two, all of it at most of nominal.
func conduct(v, nominal float64) float64 {
	return min(1, max(0, (v/nominal-0.24)/0.56))
}
