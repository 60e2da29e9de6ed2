package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// What is filed under a name that means nothing is lost to every judgement.
func TestActsThatMeanNothing(t *testing.T) {
	t.Parallel()
	r := newRig(t, 20)
	r.open(jobID)
	for what, c := range map[string]struct {
		act   capture.Act
		kind  dashboards.Kind
		words string
	}{
		"no such meter":  {capture.Act{Verb: capture.ActNull, Subject: "nometer/ohms", Value: 0.18}, dashboards.NotFound, "dmm/ohms"},
		"no leads' ohms": {capture.Act{Verb: capture.ActNull, Subject: "dmm", Value: 2.5}, dashboards.Invalid, "not what leads have"},
		"too many turns": {capture.Act{Verb: capture.ActTurn, Subject: "1", Value: 900}, dashboards.Invalid, "any trimmer"},
		"no such rail":   {capture.Act{Verb: capture.ActTurn, Subject: "9", Value: 1}, dashboards.NotFound, "+5 V logic"},
	} {
		_, err := r.Act(t.Context(), "", c.act)
		refused(t, what, err, c.kind, c.words)
	}
	if res := r.act(capture.Act{Verb: capture.ActTurn, Subject: "1", Value: 0.75}); !strings.Contains(res.Say, "+5 V logic") {
		t.Errorf("filed under its number: %s", res.Say)
	}
	r.act(capture.Act{Verb: capture.ActNull, Subject: "dmm", Value: 0.18})
}
