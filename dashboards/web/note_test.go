package web

import (
	"testing"

	"steadyrail/capture"
)

func TestVerdictNote(t *testing.T) {
	for _, c := range []struct {
		ver  capture.Verdict
		want string
	}{
		{capture.Verdict{}, ""},
		{capture.Verdict{Indicated: true}, "indicated only: no accuracy stated"},
		{capture.Verdict{Overdue: true, Note: "assumed 23 °C"}, "indicated, calibration overdue; assumed 23 °C"},
	} {
		if got := verdictOf(c.ver).Note; got != c.want {
			t.Errorf("%+v: %q, want %q", c.ver, got, c.want)
		}
	}
}
