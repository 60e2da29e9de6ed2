package app

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// makesSense refuses figures that are well formed and cannot be meant.
func (a *App) makesSense(j *openJob, act capture.Act) error {
	switch act.Verb {
	case capture.ActNull:
		if err := leadsHave(act.Value); err != nil {
			return err
		}
		return a.nullsOhms(act.Subject)
	case capture.ActPolarity:
		return a.turnsOhms(capture.ChannelID(act.Subject))
	case capture.ActVouch:
		return a.mayVouch(j, act)
	case capture.ActLimits:
		return aboveWhatIsSet(act, j.protection(act.Subject).Voltage)
	}
	return nil
}

// leadsAtMost is more than any pair of test leads has, in ohm (common practice:
// 0.1 to 0.5; long ones with a fuse in them 1 to 2).
const leadsAtMost = 2

// leadsHave refuses what is no resistance of leads: taken off, it would make a
// short of a healthy rail, and less than nothing of a short.
func leadsHave(ohms float64) error {
	if ohms <= leadsAtMost {
		return nil
	}
	return &dashboards.Error{
		Kind: dashboards.Invalid, Detail: fmt.Sprintf("null: %s is not what leads have, %s at most", capture.Ohm.Text(ohms, 0), capture.Ohm.Text(leadsAtMost, 0)),
		Hint: "hold the probes together and read again; clean the tips, or take other leads, when they do have it",
	}
}

// nullsOhms refuses the resistance of the leads of a channel that does not
// measure resistance: nothing would be taken off anywhere. An instrument's name,
// or none, means whatever it measures resistance with.
func (a *App) nullsOhms(subject string) error {
	id := capture.ChannelID(subject)
	ch, known := a.channel(id)
	if !known && subject != "" && !a.mayCome(id) {
		return &dashboards.Error{
			Kind: dashboards.NotFound, Detail: fmt.Sprintf("null %s: there is no such channel, so nothing would be taken off anywhere", subject),
			Hint: "name one of " + a.channelNames(),
		}
	}
	if !known || ch.Quantity == capture.Resistance {
		return nil
	}
	return &dashboards.Error{
		Kind: dashboards.Invalid, Detail: fmt.Sprintf("null %s: it measures %s, and what leads have is taken off resistances only", subject, ch.Quantity.Words()),
		Hint: "name the channel that measures resistance, such as steadyrail null dmm/ohms 0.18",
	}
}

// turnsOhms refuses to say which way round a channel measures that nobody knows,
// or that measures no resistance: nothing would be read by it.
func (a *App) turnsOhms(id capture.ChannelID) error {
	ch, known := a.channel(id)
	what := fmt.Sprintf("polarity of %s: ", id)
	switch {
	case !known && !a.mayCome(id):
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: what + "there is no such channel", Hint: "name one of " + a.channelNames()}
	case known && ch.Quantity != capture.Resistance && ch.Quantity != capture.DiodeDrop:
		return &dashboards.Error{Kind: dashboards.Invalid, Detail: what + "it measures " + ch.Quantity.Words() + ", and only resistances are read both ways", Hint: "name the channel that measures resistance, such as dmm/ohms"}
	}
	return nil
}

// mayCome reports whether a channel that is not known now may be known later: its
// instrument was not seen yet, is meant as a whole, has no port, or is read by eye.
func (a *App) mayCome(id capture.ChannelID) bool {
	for _, h := range a.config().Handhelds {
		if h.Name == id.Instrument() {
			return true
		}
	}
	if _, eye := id.ByEyeMeter(); eye {
		return true
	}
	return slices.Contains(a.order, id.Instrument()) && (id.Input() == "" || len(a.info(id.Instrument()).Channels) == 0)
}

// mostTurns is more than any trimmer has from end to end (25 is common practice).
const mostTurns = 100

// turned refuses what no screw does, and names the rail where its number stands.
// A part is named as it is: what a trimmer sits on need be no rail.
func turned(j *openJob, act *capture.Act) error {
	if act.Verb != capture.ActTurn {
		return nil
	}
	if math.Abs(act.Value) > mostTurns {
		return &dashboards.Error{
			Kind: dashboards.Invalid, Detail: fmt.Sprintf("turn: %g turns are more than any trimmer has", act.Value),
			Hint: "say how far this touch went, in turns, up positive: 0.75",
		}
	}
	if act.Subject == "" {
		return nil
	}
	if r, err := j.book.Sheet().FindRail(act.Subject); err == nil {
		act.Subject = r.Name
	} else if _, number := strconv.Atoi(act.Subject); number == nil {
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: "turn", Err: err}
	}
	return nil
}

// aboveWhatIsSet refuses an over-voltage at or below the voltage that is set with
// it: the supply would go off as soon as it is on. programmed is the over-voltage
// of before, which stands when the act does not say another.
func aboveWhatIsSet(act capture.Act, programmed string) error {
	over := capture.LimitIn(act.Text, capture.OverVoltage)
	if over == "" {
		over = programmed
	}
	volts, errVolts := strconv.ParseFloat(capture.LimitIn(act.Text, "volts"), 64)
	most, errMost := strconv.ParseFloat(over, 64)
	if errVolts != nil || errMost != nil || most > volts {
		return nil // not both are known, or all is well
	}
	return &dashboards.Error{
		Kind: dashboards.Invalid, Detail: fmt.Sprintf("limits of %s: %g V with an over-voltage of %s V would switch it off at once", act.Subject, volts, over),
		Hint: "say less with --volts, or another --ovp that the board survives",
	}
}
