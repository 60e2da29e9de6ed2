package diagnose

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// replaced reports whether an act fitted another part in the place of one of the
// board's. The board is another one from then on, so it is a new beginning, as
// [capture.ActAnew] is; a knob or a belt is none. Without a sheet the part must
// have been lifted before.
func (s *story) replaced(a capture.Act, before []event) bool {
	if a.Verb != capture.ActPart {
		return false
	}
	if s.ranked {
		return slices.ContainsFunc(s.board.partNames(), func(n string) bool { return strings.EqualFold(n, a.Subject) })
	}
	return slices.ContainsFunc(before, func(e event) bool {
		return e.act.Verb == capture.ActLift && strings.EqualFold(e.act.Subject, a.Subject)
	})
}

// partNames lists everything on the sheet that can be at fault, enables and
// inductors with the converter they belong to.
func (b Board) partNames() []string {
	var out []string
	for _, f := range b.Faults() {
		out = append(out, f.Part)
	}
	for _, c := range b.Converters {
		if c.Inductor != "" {
			out = append(out, c.Inductor)
		}
	}
	return out
}
