package app

import (
	"steadyrail/capture"
	"steadyrail/capture/walk"
)

// notSure is said of a rail that the probe left before its rule could tell.
const notSure = "not judged: the probe left before the rule was sure"

// heard is a record for the walk, and what the rules made of that very record.
type heard struct {
	capture.Record
	asked   bool // the rules were: they judge what is filed
	verdict capture.Verdict
}

// unsure reports whether the rules were asked and have nothing to say.
func (h heard) unsure() bool { return h.asked && h.verdict.Outcome == capture.NoData }

// judged is a record with what the rules say of the rail that the probe stands on,
// without power of its resistance, under power of its voltage. It is called
// under the bus's lock, after the job's engine has judged the record: whoever
// asked later, such as by a snapshot, would hear of the lift.
func (w *walking) judged(rec capture.Record) heard {
	w.mu.Lock()
	on := w.on
	w.mu.Unlock()
	h := heard{Record: rec}
	kinds := w.kindsOf(on)
	if h.asked = rec.Job == w.job.id && on.Rail != "" && len(kinds) > 0; h.asked {
		h.verdict, _ = w.job.engine.Newest(on.Rail, kinds...)
	}
	return h
}

func (w *walking) kindsOf(s walk.Step) []string {
	switch {
	case s.Quantity == capture.Resistance:
		return []string{"short"}
	case w.setup.Live:
		return []string{"missing", "band"}
	}
	return nil
}

// standOn notes which step the probe stands for; the zero step: none.
func (w *walking) standOn(s walk.Step) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.on = s
}

// keepVerdict keeps what the rules said of the figure that is filed: by the record
// that completed it. What they say with the leads exchanged names both ways, and
// takes the place of the first unless it is milder.
func (w *walking) keepVerdict(s walk.Step) {
	if len(w.kindsOf(s)) == 0 {
		return
	}
	v := w.verdict
	w.mu.Lock()
	defer w.mu.Unlock()
	if s.Reversed && v.Outcome < w.said[s.Rail].Outcome {
		return
	}
	if v.Outcome == capture.NoData {
		v.Say = notSure
	}
	w.said[s.Rail] = v
}
