package capture

import "testing"

// TestOnRails: a part is on the rails that are named; one of which none is named may be
// on any, and a person's own words name none.
func TestOnRails(t *testing.T) {
	for _, c := range []struct {
		text  string
		rails []string
		whole string
		on    [2]bool // +5 V logic, +12 V audio
	}{
		{"", []string{"+5 V logic"}, "on rail +5 V logic", [2]bool{true, false}},
		{"unplugged", []string{"+5 V logic", "+12 V audio"}, "unplugged; on rail +5 V logic; on rail +12 V audio", [2]bool{true, true}},
		{"", nil, "on no rail", [2]bool{false, false}},
		{"with hot air", []string{"a; b"}, "with hot air", [2]bool{true, true}},
	} {
		got := OnRails(c.text, c.rails)
		if got != c.whole || MayBeOn(got, "+5 V logic") != c.on[0] || MayBeOn(got, "+12 V audio") != c.on[1] {
			t.Errorf("%q on %q: %q", c.text, c.rails, got)
		}
	}
	if !MayBeOn("swollen; on the heatsink", "+5 V logic") {
		t.Error("what a person says of a part is taken for a rail")
	}
	if !MayBeOn("", "+5 V logic") {
		t.Error("nothing is said, and it is not on the rail")
	}
}
