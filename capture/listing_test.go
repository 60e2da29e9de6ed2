package capture

import "testing"

func TestListed(t *testing.T) {
	for want, names := range map[string][]string{
		"": nil, "+5 V": {"+5 V"}, "+5 V and +12 V": {"+5 V", "+12 V"}, "+5 V, +12 V and +3.3 V": {"+5 V", "+12 V", "+3.3 V"},
	} {
		if got := Listed(names); got != want {
			t.Errorf("%q: %q, want %q", names, got, want)
		}
	}
}
