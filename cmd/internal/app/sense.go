package app

import (
	"fmt"
	"strconv"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// makesSense refuses figures that are well formed and cannot be meant.
func (a *App) makesSense(j *openJob, act capture.Act) error {
	switch act.Verb {
	case capture.ActNull:
		return a.nullsOhms(act.Subject)
	case capture.ActVouch:
		return a.mayVouch(j, act)
	case capture.ActLimits:
		return aboveWhatIsSet(act, j.protection(act.Subject).Voltage)
	}
	return nil
}

// nullsOhms refuses the resistance of the leads of a channel that does not
// measure resistance: nothing would be taken off anywhere. An instrument's name,
// or none, means whatever it measures resistance with.
func (a *App) nullsOhms(subject string) error {
	ch, known := a.channel(capture.ChannelID(subject))
	if !known || ch.Quantity == capture.Resistance {
		return nil
	}
	return &dashboards.Error{
		Kind: dashboards.Invalid, Detail: fmt.Sprintf("null %s: it measures %s, and what leads have is taken off resistances only", subject, ch.Quantity),
		Hint: "name the channel that measures resistance, such as steadyrail null dmm/ohms 0.18",
	}
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
		Kind: dashboards.Invalid, Detail: fmt.Sprintf("set the limits of %s: an over-voltage of %s V does not lie above the %g V that are set, and would switch it off at once", act.Subject, over, volts),
		Hint: fmt.Sprintf("set the over-voltage to what the board survives, above %g V: --ovp", volts),
	}
}
