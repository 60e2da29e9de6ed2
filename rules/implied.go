package rules

import (
	"fmt"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// Implied returns the rules that follow from a job's rails without being
// written: for each rail collapse, missing, band, silent and short, in the
// order of the sheet, and auto-off where an instrument of the roster switches
// itself off. A rule without a channel waits for one.
func Implied(sheet capture.Sheet, roster capture.Roster) []capture.Rule {
	var out []capture.Rule
	for _, rail := range sheet.Rails {
		for _, k := range kind.Table() {
			if k.Implied == nil || k.OnlyIf != nil && !k.OnlyIf(roster) {
				continue
			}
			if rule, follows := k.Implied(rail); follows {
				out = append(out, rule)
			}
		}
	}
	return out
}

// Kinds lists the names that Rule.Kind may take.
func Kinds() []string {
	var out []string
	for _, k := range kind.Table() {
		out = append(out, k.Name)
	}
	return out
}

// Check reports everything that is wrong with a rule set for a sheet.
func Check(sheet capture.Sheet, set capture.RuleSet) []error {
	var out []error
	seen := map[string]bool{}
	for _, r := range set.Rules {
		if err := kind.Check(r); err != nil {
			out = append(out, err)
		} else if _, known := sheet.Rail(r.Rail); !known {
			out = append(out, fmt.Errorf("rule %s: there is no rail %q on the sheet", r.Name, r.Rail))
		} else if _, known := sheet.Rail(r.Against); kind.RailAgainst(r) && !known {
			out = append(out, fmt.Errorf("rule %s: there is no rail %q on the sheet to hold it against", r.Name, r.Against))
		} else if err := checkOf(r, set); err != nil {
			out = append(out, err)
		}
		if seen[r.Name] {
			out = append(out, fmt.Errorf("rule %s: two rules have this name", r.Name))
		}
		seen[r.Name] = true
	}
	return out
}
