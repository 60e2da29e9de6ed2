package job

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

func needRegimen(a capture.Act) error {
	if _, err := capture.ParseRegimen(a.Text); err != nil {
		return bad("soak plan: %v", err)
	}
	return nil
}

func needSoakStep(a capture.Act) error {
	word, _, _ := strings.Cut(a.Text, ": ")
	switch word {
	case capture.StepBegun, capture.StepDone, capture.StepStopped, capture.StepGoesOn:
		if a.Value >= 1 || word == capture.StepGoesOn {
			return nil
		}
	}
	return bad("soak step: %q of step %g says nothing", a.Text, a.Value)
}

func regimen(a capture.Act) string {
	plan, err := capture.ParseRegimen(a.Text)
	if err != nil {
		return finish("Soak planned", a.Text)
	}
	return "Soak planned: " + plan.Say()
}

func soakStep(a capture.Act) string {
	word, why, _ := strings.Cut(a.Text, ": ")
	switch word {
	case capture.StepGoesOn:
		return "The plan of the soak may switch again" + by(a.By) + "."
	case capture.StepStopped:
		return finish("The plan of the soak stopped", why)
	}
	head := fmt.Sprintf("Step %.0f of the soak %s", a.Value, word)
	if a.Subject != "" {
		head += " (" + a.Subject + ")"
	}
	return finish(head, why)
}
