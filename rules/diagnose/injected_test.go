package diagnose

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// inject begins an injection as the bench does: for so many seconds.
func (s *told) inject() {
	s.post(capture.Act{Verb: capture.ActInject, Subject: "supply/1", Text: "start: volts 0.5, amperes 1", Value: 60})
	s.act(capture.ActOutput, "supply/1", "on")
}

// Ohms that are read after an injection count: the act that says how it ended
// comes after its output went off, and begins no other one.
func TestTrailOhmsAfterInjection(t *testing.T) {
	b := piano(t)
	s := begun(t)
	s.inject()
	s.act(capture.ActOutput, "supply/1", "off")
	s.act(capture.ActInject, "supply/1", "ended before its time")
	s.read(voltsHere, "+5 V logic", "TP5", 0.001)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	f := s.search(&b)
	if !strings.Contains(strings.Join(f.Entries, "; "), "+5 V logic 0.84") || len(f.Walks) != 0 {
		t.Fatalf("entries %q, walks %+v", f.Entries, f.Walks)
	}
}
