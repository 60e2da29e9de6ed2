package app

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestAboveWhatIsSet(t *testing.T) {
	for _, c := range []struct {
		text, before string
		refused      bool
	}{
		{"volts 24, amperes 1, over-voltage 26, over-current 1.5", "", false},
		{"volts 24, over-voltage 20", "", true},
		{"volts 24, over-voltage 24", "", true},
		{"volts 30", "26.00", true},
		{"volts 24", "26.00", false},
		{"volts 30, over-voltage 33", "26.00", false},
		{"volts 24", "", false},
		{"over-voltage 20", "26.00", false}, // what is set is not known
		{"amperes 1", "26.00", false},
	} {
		err := aboveWhatIsSet(capture.Act{Subject: "supply", Text: c.text}, c.before)
		if (err != nil) != c.refused {
			t.Errorf("%q after %q: %v", c.text, c.before, err)
		}
		if err != nil && !strings.Contains(err.Error(), "would switch it off at once") {
			t.Errorf("%q: %v", c.text, err)
		}
		if err != nil && (strings.Count(err.Error(), "over-voltage") > 2 || strings.Contains(err.Error(), "above")) {
			t.Errorf("%q: said more than once, or advised to raise a protection to what was typed: %v", c.text, err)
		}
	}
}
