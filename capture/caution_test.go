package capture

import (
	"slices"
	"strings"
	"testing"
)

// TestCautions: each is two lines, defers to who is licensed, stands in a known
// stage, and is gone for the job once it was read.
func TestCautions(t *testing.T) {
	read := map[string]bool{}
	isRead := func(key string) bool { return read[key] }
	mains := []Rail{{Name: "bulk", Nominal: 325, Side: Mains}}
	due := func(s Stage, rails []Rail) (keys []string) {
		for _, c := range CautionsDue(s, rails, isRead) {
			keys = append(keys, c.Key)
		}
		return keys
	}
	for _, c := range Cautions() {
		if strings.Contains(c.Say, "\n") || !strings.Contains(c.Law, "Local codes and licensed practice") || !strings.HasSuffix(c.Say, ".") {
			t.Errorf("%+v", c)
		}
		for _, s := range c.Stages {
			if !s.Known() || !slices.Contains(due(s, mains), c.Key) {
				t.Errorf("%s in %q: %v", c.Key, s, due(s, mains))
			}
		}
	}
	if got := due(ColdChecks, []Rail{{Nominal: 5}}); !slices.Equal(got, []string{CautionCapacitors}) {
		t.Errorf("a board without a mains side: %v", got)
	}
	if got := due(TakeIn, mains); !slices.Equal(got, []string{CautionMains, CautionCapacitors}) {
		t.Errorf("a set with a mains side that is taken in: %v", got)
	}
	if got := due(Soak, mains); got != nil {
		t.Errorf("in a soak: %v", got)
	}
	read[CautionCapacitors] = true
	if got := due(Isolate, mains); slices.Contains(got, CautionCapacitors) || !slices.Contains(got, CautionHeat) {
		t.Errorf("after it was read: %v", got)
	}
}
