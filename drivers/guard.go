package drivers

import (
	"errors"
	"fmt"
	"strings"

	"steadyrail/capture"
)

// errNoOutput and errNoProtection are why a trip cannot go through a model.
var (
	errNoOutput     = errors.New("it has no output to switch off")
	errNoProtection = errors.New("its model has no phrases for over-voltage and over-current, so a trip through it could never be armed: add them to the model file under limits")
)

// MayTrip reports why a trip cannot go through an output of this model; "" is the
// only one. A trip is armed by protection that was programmed and read back, so
// the model needs phrases for both.
func (m Model) MayTrip(output string) error {
	if m.Registers.Output != nil {
		var names []string
		for _, l := range m.Registers.Limits {
			names = append(names, l.Name)
		}
		if output != "" {
			return fmt.Errorf("it has one output, without a name: leave out %q", "/"+output)
		}
		return protectedBy(names)
	}
	o := m.Plan.OutputNamed(output)
	if o == nil && len(m.Plan.OutputNames()) > 0 {
		return fmt.Errorf("say which output behind a slash: %s", strings.Join(m.Plan.OutputNames(), ", "))
	}
	if o == nil && len(m.Plan.Outputs) > 0 {
		return fmt.Errorf("it has one output, without a name: leave out %q", "/"+output)
	}
	if o == nil || o.Verb != capture.ActOutput || o.Off == "" {
		return errNoOutput
	}
	var names []string
	for _, l := range o.Limits {
		names = append(names, l.Name)
	}
	return protectedBy(names)
}

func protectedBy(names []string) error {
	voltage, current := false, false
	for _, n := range names {
		voltage = voltage || n == capture.OverVoltage
		current = current || n == capture.OverCurrent
	}
	if !voltage || !current {
		return errNoProtection
	}
	return nil
}
