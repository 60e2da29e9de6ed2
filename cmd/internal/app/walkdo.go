package app

import (
	"errors"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

// carry does what the machine asks for, in order.
func (w *walking) carry(list []walk.Do) {
	for _, d := range list {
		if err := w.one(d); err != nil {
			w.app.log.Warn().Err(err).Str("job", w.job.id).Str("rail", d.Step.Rail).Msg("walk")
			w.refused(d, err)
		}
	}
}

// refused tells the machine that something could not be done.
func (w *walking) refused(d walk.Do, err error) {
	at := w.app.clock.Now()
	why := err.Error()
	var p *dashboards.Error
	if errors.As(err, &p) {
		why = p.Detail
	}
	switch d.Kind {
	case walk.Place:
		w.carry(w.m.Refused(at, why))
	case walk.Select:
		w.carry(w.m.Stop(at, why))
	}
}

func (w *walking) one(d walk.Do) error {
	ch := w.channel(d.Step)
	post := func(items ...capture.Item) error {
		_, err := w.app.bus.PostAll(w.job.id, items...)
		return err
	}
	switch d.Kind {
	case walk.Select:
		return w.app.loopOf[w.meter()].Select(w.ctx, ch)
	case walk.Range:
		return w.app.loopOf[w.meter()].FixRange(w.ctx, ch, d.Value)
	case walk.Place:
		return w.place(ch, d)
	case walk.Off:
		w.keepVerdict(d.Step)
		w.standOn(walk.Step{})
		return post(capture.Placement{Channel: ch, By: w.by})
	case walk.Withdraw:
		w.standOn(walk.Step{})
		items := []capture.Item{capture.Placement{Channel: ch, Corrects: d.At, By: w.by, Why: d.Why}}
		if _, since, _ := w.job.book.Placements().Now(ch); since == d.At {
			items = append(items, capture.Placement{Channel: ch, By: w.by})
		}
		return post(items...)
	case walk.Skip:
		return post(capture.Act{Verb: capture.ActWalk, Subject: d.Step.Rail, Text: d.Step.In() + ": " + d.Why, By: w.by})
	case walk.End:
		w.mu.Lock()
		w.over = true
		w.mu.Unlock()
	}
	return nil
}

func (w *walking) channel(s walk.Step) capture.ChannelID {
	if s.Quantity == capture.Resistance {
		return w.setup.Ohms
	}
	return w.setup.Volts
}

// place puts the channel where the probe was seen, and says which way round it
// measures there: with the leads exchanged the low one is on the rail.
func (w *walking) place(ch capture.ChannelID, d walk.Do) error {
	rail, _ := w.job.book.Sheet().Rail(d.Step.Rail)
	p := capture.Placement{Channel: ch, Rail: rail.Name, Point: rail.Point, Return: rail.Return, By: w.by, Why: d.Why}
	if d.Step.Reversed {
		p.Return = rail.Name
	}
	if err := w.app.mayStandWalking(w.job, p); err != nil {
		return err
	}
	if err := w.app.mayMeasure(w.job, p); err != nil {
		return err
	}
	w.standOn(d.Step)
	ats, err := w.app.bus.PostAll(w.job.id, append(w.turned(d.Step), p)...)
	if d.Step.Quantity == capture.Resistance && len(ats) > 0 {
		w.reversed = d.Step.Reversed // it was said, also where the placement behind it was refused
	}
	if err != nil {
		w.standOn(walk.Step{})
		return err
	}
	w.m.Placed(ats[len(ats)-1])
	return nil
}

// turned is the act that says which way round a step is measured, where that is
// news. Volts are volts either way.
func (w *walking) turned(s walk.Step) []capture.Item {
	if s.Quantity != capture.Resistance || s.Reversed == w.reversed {
		return nil
	}
	return []capture.Item{w.polarity(s.Reversed)}
}

func (w *walking) polarity(reversed bool) capture.Act {
	act := capture.Act{Verb: capture.ActPolarity, Subject: string(w.setup.Ohms), Text: capture.Forward, By: w.by}
	if reversed {
		act.Text = capture.Reverse
	}
	return act
}
