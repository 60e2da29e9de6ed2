package diagnose

import (
	"reflect"
	"slices"
	"testing"
)

// The engine of a sheet is kept while the sheet says the same, and what it says
// does not hang on what was asked before.
func TestEngineIsKept(t *testing.T) {
	s := begun(t)
	b, again := piano(t), piano(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.8)
	first := s.search(&b)
	kept := s.tr.engine
	if second := s.search(&again); s.tr.engine != kept || !reflect.DeepEqual(first, second) {
		t.Errorf("the same sheet: %v, %+v", s.tr.engine == kept, second)
	}
	again.Capacitors = slices.Clone(again.Capacitors[1:])
	if s.search(&again); s.tr.engine == kept {
		t.Error("another sheet is weighed by the engine of the first")
	}
}
