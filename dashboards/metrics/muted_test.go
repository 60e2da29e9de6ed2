package metrics

import (
	"testing"

	"steadyrail/capture"
)

func TestMutedAlarmIsNoSample(t *testing.T) {
	got := activeAlarms([]capture.Transition{
		{Rule: "collapse +5 V logic", To: capture.Active, Severity: capture.Urgent},
		{Rule: "band +5 V logic", To: capture.Active, Muted: "told as collapse already"},
	})
	if len(got) != 1 || got[alarmKey{rule: "collapse +5 V logic", severity: "urgent"}] != 1 {
		t.Errorf("samples %v", got)
	}
}
