package live

import (
	"slices"

	"steadyrail/capture"
)

// SetTransition notes a step in the life of an alarm of a job. For a job that
// is not open it does nothing.
func (t *Table) SetTransition(job string, tr capture.Transition) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if j := t.job(job); j != nil {
		j.transition(tr)
		t.changed()
	}
}

// SetVerdicts notes verdicts of a job, each in the place of the rule's last
// one. For a job that is not open it does nothing.
func (t *Table) SetVerdicts(job string, verdicts []capture.Verdict) {
	t.mu.Lock()
	defer t.mu.Unlock()
	j := t.job(job)
	if j == nil || len(verdicts) == 0 {
		return
	}
	for _, v := range verdicts {
		j.verdict(v)
	}
	t.changed()
}

// SetInstrument notes the state of an instrument, known by its name, and learns
// its channels. What is passed must not be changed afterwards.
func (t *Table) SetInstrument(v InstrumentView) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.learn(v.Info)
	t.instruments = slices.Clone(t.instruments)
	i := slices.IndexFunc(t.instruments, func(o InstrumentView) bool { return o.Info.Name == v.Info.Name })
	if i < 0 {
		t.instruments = append(t.instruments, v)
	} else {
		t.instruments[i] = v
	}
	t.changed()
}

// SetChannel notes whether a channel is the polled one of its input and how
// many seconds its last exchange took. It wakes nobody for the exchange alone.
func (t *Table) SetChannel(id capture.ChannelID, selected bool, exchange float64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	c := t.channel(id, capture.NoQuantity)
	turned := c.selected != selected
	c.selected, c.exchange = selected, exchange
	if turned {
		t.changed()
	}
}

// SetNotifiers replaces what is known of all notifiers.
func (t *Table) SetNotifiers(n []NotifierView) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.notifiers = slices.Clone(n)
	t.changed()
}

// SetSpeed notes how many bench seconds pass in a second.
func (t *Table) SetSpeed(speed float64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.speed = speed
	t.changed()
}
