package session

import (
	"strings"

	"steadyrail/capture"
)

// Guard is what a model says of how a protection comes to act.
type Guard int

// A level alone protects nothing while the protection is off. SCPI-1999 volume 2,
// chapter 19 (SOURce; from memory) has a switch of its own for it,
// CURRent:PROTection:STATe, with over-current off after *RST; many supplies have
// none.
const (
	NotStated Guard = iota // nothing is known: only its level is
	Always                 // it has no switch and acts whenever the output is on, by its maker
	Switched               // it is switched on, and asked
)

// ParseHeld is [ParseLimits] for what is only read back: a protection that was
// confirmed to be on, "over-current 1.5 (on)", must be so again.
func ParseHeld(text string, bounds []Bound) ([]Setting, error) {
	var plain []string
	for part := range strings.SplitSeq(text, ",") {
		level, _, _ := strings.Cut(part, "(")
		plain = append(plain, strings.TrimSpace(level))
	}
	list, err := ParseLimits(strings.Join(plain, ","), bounds)
	for i := range list {
		list[i].On = capture.StateIn(text, bounds[list[i].At].Name) == capture.GuardOn
	}
	return list, err
}

// guarded puts what is known of a protection's state behind its level. What was
// switched on and reads back as off is Unconfirmed's error; where there is no
// such switch the level stands alone, and is said to.
func (p Panel) guarded(said string, b Bound, s Setting, turn bool) (string, error) {
	if _, guards := protects[b.Name]; !guards {
		return said, nil
	}
	if b.On == Always {
		return capture.Guarded(said, capture.GuardAlways), nil
	}
	has := b.On == Switched && s.On
	if b.On == Switched && turn {
		var err error
		if has, err = p.TurnOn(s.At); err != nil {
			return "", err
		}
	}
	if !has {
		return capture.Guarded(said, capture.GuardUnknown), nil
	}
	on, err := p.IsOn(s.At)
	if err == nil && !on {
		err = p.Unconfirmed("its " + b.Name + " protection reads back as off")
	}
	return capture.Guarded(said, capture.GuardOn), err
}
