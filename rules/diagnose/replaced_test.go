package diagnose

import (
	"testing"

	"steadyrail/capture"
)

func (s *told) fit(where string) {
	s.post(capture.Fitted{Type: "SR-5", Origin: "own stock", Quantity: 1}.Act(where, ""))
}

// A part of the board that is replaced begins anew, and is on the board with it;
// one that the sheet does not have changes nothing.
func TestReplacedBeginsAnew(t *testing.T) {
	b := piano(t)
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.8)
	s.act(capture.ActLift, "C104", "")
	s.again(ohmsHere, 112)
	s.fit("volume knob")
	if f := s.search(&b); len(f.Ledger) != 1 || len(f.Off) != 1 {
		t.Fatalf("a knob: %+v", f)
	}
	s.fit("c104")
	fitted := s.at
	f := s.search(&b)
	if len(f.Ledger) != 0 || len(f.Entries) != 1 || len(f.Off) != 0 || f.Since != fitted {
		t.Errorf("C104 was replaced: %+v", f)
	}
	s.act(capture.ActPutBack, "C104", "")
	s.again(ohmsHere, 112)
	if f = s.search(&b); len(f.Unused) != 0 || len(f.Entries) != 2 {
		t.Errorf("put back by replacing it: %+v, %v", f.Unused, f.Entries)
	}
}

// Without a sheet only what was lifted is known to be a part of the board.
func TestReplacedWithoutSheet(t *testing.T) {
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.8)
	s.act(capture.ActLift, "C104", "")
	s.again(ohmsHere, 112)
	s.fit("C105")
	if f := s.search(nil); len(f.Ledger) != 1 {
		t.Errorf("C105 was not lifted: %+v", f.Ledger)
	}
	s.fit("C104")
	if f := s.search(nil); len(f.Ledger) != 0 || len(f.Off) != 0 {
		t.Errorf("C104 was replaced: %+v", f)
	}
}
