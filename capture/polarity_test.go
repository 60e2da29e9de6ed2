package capture_test

import (
	"testing"

	"steadyrail/capture"
)

// The newest that concerns a channel holds, whatever it was said of.
func TestPolarities(t *testing.T) {
	var f capture.Polarities
	if f.Reversed("dmm/ohms") {
		t.Error("reversed before anybody said so")
	}
	for _, c := range []struct {
		subject, text string
		dmm, other    bool
	}{
		{"dmm/ohms", capture.Reverse, true, false},
		{"dmm/volts", capture.Forward, true, false},
		{"dmm", capture.Forward, false, false},
		{"", capture.Reverse, true, true},
		{"dmm/ohms", capture.Forward, false, true},
		{"dmm", capture.Reverse, true, true},
		{"", capture.Forward, false, false},
	} {
		f.Take(capture.Act{Verb: capture.ActPolarity, Subject: c.subject, Text: c.text})
		f.Take(capture.Act{Verb: capture.ActNote, Subject: c.subject, Text: capture.Reverse})
		if got, other := f.Reversed("dmm/ohms"), f.Reversed("dmm2/ohms"); got != c.dmm || other != c.other {
			t.Errorf("after %q %s: %v and %v", c.subject, c.text, got, other)
		}
	}
}
