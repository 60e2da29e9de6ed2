package session

import (
	"errors"
	"strings"
	"testing"

	"steadyrail/capture"
)

// What is to be done about an act that is refused: nothing is to be added for
// what the instrument cannot do.
func TestAllowedSaysWhatHelps(t *testing.T) {
	for _, c := range []struct {
		acts, can []string
		verb      capture.Verb
		want      string // empty: it is allowed
	}{
		{[]string{"output", "limits"}, []string{"output", "limits"}, capture.ActLimits, ""},
		{[]string{"output"}, []string{"output", "limits"}, capture.ActReadBack, ""},
		{[]string{"output"}, []string{"output", "limits"}, capture.ActLimits, `add "limits" to the acts`},
		{nil, []string{"output", "limits"}, capture.ActReadBack, `to the acts`},
		{nil, nil, capture.ActLimits, "its model has nothing to switch or to set"},
		{[]string{"output"}, []string{"output"}, capture.ActLimits, "its model has no limits, only output"},
	} {
		err := Allowed(c.acts, c.can, c.verb)
		switch {
		case c.want == "" && err != nil, c.want != "" && (!errors.Is(err, ErrNotAllowed) || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%v of %v, %s: %v, want %q", c.acts, c.can, c.verb, err, c.want)
		case strings.Contains(c.want, "its model") && strings.Contains(err.Error(), "to the acts"):
			t.Errorf("%v of %v, %s: advice that does not help: %v", c.acts, c.can, c.verb, err)
		}
	}
}
