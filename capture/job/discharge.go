package job

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

func needDischarge(a capture.Act) error {
	d, err := capture.ParseDischarge(a.Text)
	switch {
	case err != nil:
		return bad("%s: %v", a.Verb, err)
	case d.What == "" || d.Channel == "":
		return bad("%s: name the capacitor and the channel that watches it", a.Verb)
	}
	return nil
}

func needCaution(a capture.Act) error {
	var keys []string
	for _, c := range capture.Cautions() {
		if c.Key == a.Subject {
			return nil
		}
		keys = append(keys, c.Key)
	}
	return bad("there is no caution %q: %s", a.Subject, strings.Join(keys, ", "))
}

func needPolarity(a capture.Act) error {
	if a.Text != capture.Forward && a.Text != capture.Reverse {
		return bad("say forward or reverse, not %q", a.Text)
	}
	return aSubject("the channel")(a)
}

func needProof(a capture.Act) error {
	if _, err := capture.ParseMeterProof(a.Text); err != nil {
		return bad("%s: %v", a.Verb, err)
	}
	return aSubject("the channel")(a)
}

// discharge says the card that the watch began with.
func discharge(a capture.Act) string {
	d, err := capture.ParseDischarge(a.Text)
	if err != nil {
		return finish("Discharge begun"+named(a.Subject), "")
	}
	return fmt.Sprintf("Discharge of %s begun: %s through %s from %s, watched by %s.", d.What,
		capture.Farad.Text(d.Farads, 0), capture.Ohm.Text(d.Ohms, 0), capture.Volt.Text(d.Volts, 0), d.Channel)
}

// proveMeter says what the meter showed on a source that is known to be live.
func proveMeter(a capture.Act) string {
	p, err := capture.ParseMeterProof(a.Text)
	if err != nil {
		return finish("Meter proved"+named(a.Subject), "")
	}
	word := "proved"
	if !p.Good {
		word = "NOT proved"
	}
	return fmt.Sprintf("%s %s: it read %s where %s has %s.", capital(a.Subject), word, capture.Volt.Text(p.Read, p.Resolution), p.Source, capture.Volt.Text(p.Expected, 0))
}
