package capture

import (
	"slices"
	"strings"
)

// The text of [ActLift] and [ActPutBack] ends with the rails that the part is on, where
// the board's sheet knows them: "on rail +5 V logic; on rail +12 V audio", or "on no
// rail". What a person says of a part, such as "on the heatsink", names none.
const (
	onRail   = "on rail "
	onNoRail = "on no rail"
	railsBy  = "; "
)

// OnRails adds to what is said of a part which rails it is on. A name that could be
// taken for two leaves the text as it is: then nothing is known.
func OnRails(text string, rails []string) string {
	if slices.ContainsFunc(rails, func(r string) bool { return strings.Contains(r, railsBy) }) {
		return text
	}
	var parts []string
	if text != "" {
		parts = append(parts, text)
	}
	for _, r := range rails {
		parts = append(parts, onRail+r)
	}
	if len(rails) == 0 {
		parts = append(parts, onNoRail)
	}
	return strings.Join(parts, railsBy)
}

// MayBeOn reports whether a part is on a rail by such a text; one that names no rails
// may be on any.
func MayBeOn(text, rail string) bool {
	named := false
	for part := range strings.SplitSeq(text, railsBy) {
		r, ok := strings.CutPrefix(part, onRail)
		if ok && r == rail {
			return true
		}
		named = named || ok || part == onNoRail
	}
	return !named
}
