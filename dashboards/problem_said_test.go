package dashboards

import (
	"errors"
	"testing"
)

func TestErrorSaysWhatWasWantedOnce(t *testing.T) {
	t.Parallel()
	for want, e := range map[string]*Error{
		"no body":                              {Detail: "no body"},
		"nobody answers":                       {Err: errors.New("nobody answers")},
		"place dmm/volts: nobody answers":      {Detail: "place dmm/volts", Err: errors.New("nobody answers")},
		"place dmm/volts in job A: no rail":    {Detail: "place dmm/volts", Err: errors.New("place dmm/volts in job A: no rail")},
		"limits of supply: refused":            {Detail: "limits of supply", Err: errors.New("limits of supply: refused")},
		"place dmm: place dmm2/volts: no rail": {Detail: "place dmm", Err: errors.New("place dmm2/volts: no rail")},
	} {
		if got := e.Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
