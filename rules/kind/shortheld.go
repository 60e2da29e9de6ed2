package kind

import (
	"strconv"

	"steadyrail/capture"
)

// word is what was made of a resistance, without its text: that is written when
// somebody asks, not with every reading.
type word struct {
	at      capture.Instant // of the newest reading that it rests on; 0: none
	ohms    float64
	res     float64
	u, k    float64 // expanded uncertainty, ohm; 0: not stated
	fits    capture.Outcome
	atLeast bool // it still rose
	wide    bool // read in a range whose digits are too coarse
	leads   string
	since   capture.Instant // from when nothing can be judged
	why     string
}

// judgedWord is the word of now.
func (s *short) judgedWord() word {
	w := word{at: s.lastAt, ohms: s.value, res: s.last.Resolution, u: s.u.Expanded, k: s.u.Coverage, fits: s.fits, leads: s.leads()}
	if w.wide = s.wide(); w.wide {
		w.ohms = max(0, w.ohms) // its digits, no voltage
	}
	if s.bounded() {
		w.fits, w.atLeast = capture.Pass, s.rise.charges()
	}
	return w
}

// hold keeps the newest word that was judged: the rail's, so of the forward way,
// and backwards only a short.
func (s *short) hold() {
	if (s.judged() || s.bounded()) && (!s.ways.reverse || s.fits == capture.Fail) {
		s.held = s.judgedWord()
	}
}

// overtaken notes what happened to the rail after it was judged. The first of it
// counts: what came later did not make it any less known.
func (s *short) overtaken(at capture.Instant, why string) {
	if s.held.at != 0 && s.held.since == 0 {
		s.held.since, s.held.why = at, why
	}
}

const voltageSeen = "there was voltage on the rail"

// over reports whether a word stands and nothing can be said of now.
func (s *short) over() bool { return s.held.at != 0 && (s.negative() || !s.dead) }

// tell is the held word for people, while it is not the word of now.
func (s *short) tell() (h capture.HeldWord) {
	if s.held.at == 0 || s.judged() || s.bounded() {
		return h
	}
	w := s.held
	return capture.HeldWord{Outcome: w.fits, Say: w.say(s.limit()), At: w.at, Since: w.since, Why: w.why}
}

// say puts a resistance in words.
func (w word) say(limit float64) string { return w.figure() + w.judgement(limit) }

func (w word) figure() string {
	if w.atLeast {
		return "at least " + w.text(w.ohms) + ", still charging"
	}
	return w.text(w.ohms)
}

func (w word) text(ohms float64) string { return capture.Ohm.Text(ohms, w.res) }

func (w word) judgement(limit float64) string {
	switch w.fits {
	case capture.Pass:
		return ": no short"
	case capture.Fail:
		return ": short"
	}
	if w.wide {
		return ": cannot tell, the last digit of this range is " + capture.Ohm.Text(w.res, w.res)
	}
	return w.doubt() + ": cannot tell, too near to " + w.text(limit)
}

// doubt is the uncertainty that the judgement hangs on.
func (w word) doubt() string {
	if w.u <= 0 {
		return ""
	}
	return " ± " + capture.Ohm.Text(w.u, max(twoDigits(w.u), min(w.res, 10*twoDigits(w.u)))) + " (k = " + strconv.FormatFloat(w.k, 'g', 3, 64) + ")"
}

// remedy is what makes a doubtful word a decided one.
func (w word) remedy() string {
	switch {
	case w.fits == capture.Pass || w.fits == capture.Fail:
		return ""
	case w.wide:
		return "; let the meter range down"
	case w.leads != "":
		return "; null the leads or use four wires"
	}
	return "; use four wires"
}
