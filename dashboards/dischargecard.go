package dashboards

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
)

// Card reads what was typed, with the decimal mark of the bench. An empty rating is not stated, an empty level is
// the one to work at.
func (ask DischargeAsk) Card(mark capture.DecimalMark) (capture.Discharge, error) {
	d := capture.Discharge{What: ask.What, Channel: capture.ChannelID(ask.Channel), Rail: ask.Rail}
	for _, f := range []struct {
		name, text string
		unit       capture.Unit
		into       *float64
	}{
		{"resistance", ask.Ohms, capture.Ohm, &d.Ohms}, {"capacitance", ask.Farads, capture.Farad, &d.Farads},
		{"voltage to begin with", ask.Volts, capture.Volt, &d.Volts}, {"rating of the resistor", ask.Watts, capture.Watt, &d.Watts},
	} {
		if f.text == "" {
			continue // Validate says what is missing
		}
		v, _, err := f.unit.ParseTyped(f.text, mark)
		if err != nil {
			return d, &Error{Kind: Invalid, Detail: "discharge: the " + f.name, Err: err}
		}
		*f.into = v
	}
	if d.Watts == 0 && ask.Watts != "" {
		d.Watts = math.SmallestNonzeroFloat64 // typed as zero: refused below, not taken for "not stated"
	}
	var err error
	if d.Level, err = level(ask.Level, mark); err == nil {
		err = d.Validate()
	}
	if err != nil {
		return d, &Error{Kind: Invalid, Detail: "discharge", Err: err}
	}
	return d, nil
}

func level(text string, mark capture.DecimalMark) (float64, error) {
	switch strings.ToLower(text) {
	case "", "work":
		return capture.LevelWork, nil
	case "touch":
		return capture.LevelTouch, nil
	case "ohms":
		return capture.LevelOhms, nil
	}
	v, _, err := capture.Volt.ParseTyped(text, mark)
	if err != nil {
		return 0, fmt.Errorf("the level: %w; say touch (60 V), work (5 V), ohms (50 mV), or volts of your own", err)
	}
	return v, nil
}
