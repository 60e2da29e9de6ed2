package web

import "strings"

// Aged says that cold checks are older than work on the board, so that no output
// goes on, and what to do about it.
type Aged struct{ Say, Do string }

// askCold is the line about it where outputs can be switched on.
func (v *view) askCold() (out []ask) {
	if v.Aged.Say == "" || len(v.ToPower()) == 0 {
		return nil
	}
	lines := v.AgedLines()
	return []ask{{Key: "cold checks", What: lines[0], Do: lines[1]}}
}

// AgedLines says it beside the buttons: why no output goes on, and what to do.
func (v *view) AgedLines() []string {
	if v.Aged.Say == "" {
		return nil
	}
	return []string{sentence("switch " + strings.Join(v.ToPower(), ", ") + " on: " + glue(v.Aged.Say)), sentence(glue(v.Aged.Do))}
}

// ToPower names the outputs that may be switched on with a permit.
func (v *view) ToPower() (out []string) {
	for _, o := range v.Outlets() {
		if o.Asks() {
			out = append(out, o.Subject)
		}
	}
	return out
}
