package rules

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestWhatAnAlarmSaysOfTheOrder(t *testing.T) {
	for say, want := range map[string]string{
		"+5 V logic collapsed: from 5.011 V to 3.087 V; +12 V audio fell first, within 0.2 s":                                 "+12 V audio fell first, within 0.2 s",
		"+5 V logic is missing; +12 V audio fell first, within 0.2 s. Third time within a minute: more are counted, not told": "+12 V audio fell first, within 0.2 s",
		"+5 V logic collapsed: from 5.011 V to 3.087 V; cannot tell whether -12 V audio fell first":                           "cannot tell whether -12 V audio fell first",
		"+5 V logic collapsed: from 5.011 V to 3.087 V":                                                                       "",
		"+5 V logic; a; b": "",
	} {
		if got := firstIn(say); got != want {
			t.Errorf("%s: %q, want %q", say, got, want)
		}
	}
	fall := capture.Transition{Rail: "+5 V logic", Say: "+5 V logic is missing; +12 V audio fell first, within 0.2 s"}
	got := orders([]capture.Transition{{Rail: "+12 V audio", Say: "+12 V audio is missing"}, fall, fall, fall, fall, fall})
	if len(got) != mostOrders || got[0] != "When +5 V logic fell: +12 V audio fell first, within 0.2 s." {
		t.Errorf("%s", strings.Join(got, "\n"))
	}
}
