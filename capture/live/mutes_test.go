package live_test

import (
	"testing"

	"steadyrail/capture"
)

// A mute is shown until its time is over or a person ends it.
func TestMutesAreShownUntilTheyEnd(t *testing.T) {
	s := opened(t)
	s.put(1, capture.Act{Verb: capture.ActMute, Subject: "+5 V logic", Value: 60, By: "R. Hale"})
	s.put(2, capture.Act{Verb: capture.ActMute, Subject: "+12 V audio", Value: 600})
	if m := s.view().Mutes; len(m) != 2 || m[0] != (capture.Mute{Subject: "+5 V logic", Until: at(61), By: "R. Hale"}) {
		t.Fatalf("%+v", m)
	}
	s.put(61, capture.Tick{})
	if m := s.view().Mutes; len(m) != 1 || m[0].Subject != "+12 V audio" {
		t.Errorf("after its time: %+v", m)
	}
	s.put(62, capture.Act{Verb: capture.ActMute, Subject: "+12 V audio"})
	if m := s.view().Mutes; len(m) != 0 {
		t.Errorf("ended by hand: %+v", m)
	}
}
