package capture

import (
	"slices"
	"strings"
)

// What is known of whether a protection acts at all, beside the level at which it
// would. It stands in parentheses behind the level in the text of [ActLimits] and
// [ActReadBack]: "over-current 1.5 (on)". A record without the word is from before
// it was asked for, and claims no more than the level.
const (
	GuardOn      = "on"                  // its switch was set and read back
	GuardAlways  = "always on"           // by the model file: there is nothing to switch
	GuardUnknown = "state not confirmed" // a level alone: it may be off
)

// Guarded puts what is known of a protection's state behind its level.
func Guarded(level, state string) string { return level + " (" + state + ")" }

// StateIn returns what the text of limits says of the state of a protection:
// "on" in "over-current 1.5 (on)". "" when it says nothing of it.
func StateIn(text, name string) string {
	for part := range strings.SplitSeq(text, ",") {
		_, of, found := strings.Cut(" "+part, " "+name+" ")
		if _, state, ok := strings.Cut(of, "("); found && ok {
			return strings.TrimSuffix(strings.TrimSpace(state), ")")
		}
	}
	return ""
}

// Confirmed writes limits as they were asked for with the states that the
// instrument's answer has, so that the record says which protection is known to
// be on.
func Confirmed(asked, answer string) string {
	parts := strings.Split(asked, ",")
	for i, part := range parts {
		name, _, _ := strings.Cut(strings.TrimSpace(part), " ")
		if state := StateIn(answer, name); state != "" {
			parts[i] = Guarded(part, state)
		}
	}
	return strings.Join(parts, ",")
}

// surelyOn reports whether a protection is known to act, not only to have a level.
func surelyOn(state string) bool { return state == GuardOn || state == GuardAlways }

// Unconfirmed says of each protection that has a level and is not known to be on:
// "over-current protection: level 2 A set, state not confirmed". "" when there is
// none.
func (p Protection) Unconfirmed() string {
	var out []string
	for _, g := range p.sides() {
		if g.level != "" && !surelyOn(g.state) {
			out = append(out, g.name+" protection: level "+g.level+" "+g.unit+" set, "+GuardUnknown)
		}
	}
	return strings.Join(out, "; ")
}

// Claim says what protects an output, and no more than was confirmed:
//
//	protected by over-voltage 26 V and over-current 1.5 A, read back as on
//	protected by over-voltage 26 V, read back as on; over-current protection: level 1.5 A set, state not confirmed
func (p Protection) Claim() string {
	var sure, states []string
	for _, g := range p.sides() {
		if g.level == "" || !surelyOn(g.state) {
			continue
		}
		sure = append(sure, g.name+" "+g.level+" "+g.unit)
		if !slices.Contains(states, claims[g.state]) {
			states = append(states, claims[g.state])
		}
	}
	said := "protected by nothing that is known to be on"
	if len(sure) > 0 {
		said = "protected by " + strings.Join(sure, " and ") + ", " + strings.Join(states, " and ")
	}
	if rest := p.Unconfirmed(); rest != "" {
		said += "; " + rest
	}
	return said
}

var claims = map[string]string{GuardOn: "read back as on", GuardAlways: "always on by its model file"}

type guard struct{ name, level, unit, state string }

func (p Protection) sides() []guard {
	return []guard{{OverVoltage, p.Voltage, Volt.ASCII(), p.VoltageState}, {OverCurrent, p.Current, Ampere.ASCII(), p.CurrentState}}
}

// states takes what a text says of the states. A level that stands there without
// one is known as a level alone.
func (p *Protection) states(text string) {
	if named(text, OverVoltage) {
		p.VoltageState = StateIn(text, OverVoltage)
	}
	if named(text, OverCurrent) {
		p.CurrentState = StateIn(text, OverCurrent)
	}
}

func named(text, name string) bool { return LimitIn(text, name) != "" }

// tripped stands before the protections that a supply says have tripped, in the
// text of [ActReadBack].
const tripped = "tripped: "

// TrippedNotTold stands there when an output was found off and none is named.
const TrippedNotTold = "not told"

// WithTripped puts behind a read-back which protections have tripped.
func WithTripped(text string, names ...string) string {
	return text + ", " + tripped + strings.Join(names, " and ")
}

// TrippedIn returns which protections a read-back says have tripped: "over-current".
// "" when it says nothing of it.
func TrippedIn(text string) string {
	for part := range strings.SplitSeq(text, ",") {
		if names, ok := strings.CutPrefix(strings.TrimSpace(part), tripped); ok {
			return names
		}
	}
	return ""
}

// FoundOff reports whether a read-back is of an output that was found off, though
// nothing here had switched it off.
func FoundOff(text string) bool { return ReadsOff(text) && TrippedIn(text) != "" }

// WhyOff says why an output that was found off is off, as far as the supply tells:
//
//	supply switched its output off by itself: its over-current protection tripped
func WhyOff(output, text string) string {
	names := TrippedIn(text)
	if names == TrippedNotTold {
		return output + " is off and nothing here switched it off: its own protection, a hand at its panel, or its mains; it names no protection that tripped"
	}
	return output + " switched its output off by itself: its " + names + " protection tripped"
}

// TrippedAdvice is what to do about it. Only a person clears it: a supply that is
// switched on into what tripped it heats that once more.
const TrippedAdvice = "find out why before anything else: a short, a load or a limit that is too low; then clear it at the supply (many call it OUTP:PROT:CLE or a key at the panel) and switch it on with a new permit"
