package cli

import (
	"testing"

	"steadyrail/capture"
)

func TestStageAsTyped(t *testing.T) {
	for typed, want := range map[string]capture.Stage{
		"stand-in": capture.StandIn, "standin": capture.StandIn, "Cold checks": capture.ColdChecks, "cold": capture.ColdChecks, "warmup": capture.WarmUp,
		"warm up": capture.WarmUp, "live": capture.LiveChecks, "signoff": capture.SignOff, "so": capture.Soak, "take_in": capture.TakeIn,
		"s": "s", "": "", "t": "t", "lunch": "lunch",
	} {
		if got := stageNamed(typed); got != want {
			t.Errorf("%q is %q, want %q", typed, got, want)
		}
	}
}
