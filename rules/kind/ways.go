package kind

import "steadyrail/capture"

// ways keeps what was judged in each polarity. Through semiconductors the two
// differ, and a short does not.
type ways struct {
	said    capture.Polarities // of whatever channel, also before it sits here
	reverse bool
	seen    [2]wayRead // forward, reverse
}

// wayRead is what was judged in one polarity.
type wayRead struct {
	ohms, res float64
	ok        bool
}

// unlike is the ratio from which the two ways are not the same resistance (the
// project's own choice: leads, contact and test current make less).
const unlike = 3

// sit takes the way of the channel that judges from now on.
func (w *ways) sit(id capture.ChannelID) { w.reverse = w.said.Reversed(id) }

// take hears which way round a channel measures from now on, and reports whether
// it is another than before.
func (w *ways) take(act *capture.Act, id capture.ChannelID) bool {
	if act.Verb != capture.ActPolarity {
		return false
	}
	before := w.reverse
	w.said.Take(*act)
	w.sit(id)
	return w.reverse != before
}

func (w *ways) index() int {
	if w.reverse {
		return 1
	}
	return 0
}

// keep keeps a steady value of the present way.
func (w *ways) keep(ohms, res float64) {
	w.seen[w.index()] = wayRead{ohms, res, true}
}

// forget is for whatever changes the rail.
func (w *ways) forget() { w.seen = [2]wayRead{} }

// say adds the way, and what the other one had.
func (w *ways) say() string {
	way, other := "", "other way round "
	if w.reverse {
		way, other = ", leads reversed", "forward "
	}
	here, there := w.seen[w.index()], w.seen[1-w.index()]
	if !there.ok || !here.ok {
		return way
	}
	way += ", " + other + capture.Ohm.Text(there.ohms, there.res)
	low, high := min(abs(here.ohms), abs(there.ohms)), max(abs(here.ohms), abs(there.ohms))
	if high > float64(unlike*low)+0.1 {
		way += ": a junction conducts one way"
	}
	return way
}
