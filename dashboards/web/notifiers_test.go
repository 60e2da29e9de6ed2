package web

import (
	"testing"

	"steadyrail/capture/live"
)

// Tests are counted apart: "0 told" after one that arrived would read as a fault.
func TestToldCountsTestsApart(t *testing.T) {
	for want, n := range map[string]live.NotifierView{
		"not tried yet":                         {},
		"0 told":                                {Tried: true},
		"1 test told, no alarm yet":             {Tried: true, Tests: 1},
		"2 tests told, no alarm yet":            {Tried: true, Tests: 2},
		"3 told, 1 test told":                   {Tried: true, Sent: 3, Tests: 1},
		"3 told, 1 test told, 2 did not arrive": {Tried: true, Sent: 3, Tests: 1, Failed: 2},
		"fails for 0\u00a0s, 1 did not arrive":  {Tried: true, Tests: 1, Failed: 1, Problem: "refused"},
	} {
		v := &view{}
		v.snap.Notifiers = []live.NotifierView{n}
		if got := v.Told()[0].Say; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
