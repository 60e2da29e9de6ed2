package web

import (
	"testing"

	"steadyrail/capture"
)

func TestAnAlarmNamesItsRule(t *testing.T) {
	for _, c := range []struct {
		rule, kind, want string
	}{
		{"power of the set", "band", "power of the set, band"},
		{"band +5 V logic", "band", together("band +5 V logic")},
		{"", "silent", "silent"},
	} {
		if got := ruleWords(capture.Transition{Rule: c.rule, Kind: c.kind}); got != c.want {
			t.Errorf("%q of kind %s: %q, want %q", c.rule, c.kind, got, c.want)
		}
	}
}

// TestWhoIsMutedIsNotWaitedFor: the sentence over the alarms counts what waits
// for somebody, as the red field does.
func TestWhoIsMutedIsNotWaitedFor(t *testing.T) {
	loud, heard := alarm{Unheard: true}, alarm{}
	muted := alarm{Unheard: true, Muted: "told as missing already"}
	for _, c := range []struct {
		list []alarm
		want string
	}{
		{[]alarm{loud, loud, muted}, "Two not heard yet, one muted."},
		{[]alarm{loud}, "One not heard yet."},
		{[]alarm{heard, muted}, "All heard, one muted."},
		{[]alarm{muted, muted}, "All muted."},
		{[]alarm{heard}, "All heard."},
	} {
		v := view{HasJob: true, Alarms: c.list}
		if _, got := v.alarmSentence(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
