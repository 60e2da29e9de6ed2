package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// Who opens a job beside another is told so, and which of them commands mean; who
// closes one, which is meant next.
func TestOpeningSaysWhichJobCommandsMean(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	for _, c := range []struct{ job, want string }{
		{"AB-0147", ""},
		{"AB-0148", "Job AB-0147 is open, too: commands without --job go to AB-0148 from now on."},
		{"AB-0149", "Jobs AB-0147 and AB-0148 are open, too: commands without --job go to AB-0149 from now on."},
	} {
		res, err := r.OpenJob(t.Context(), sheet(t, c.job))
		r.must(err)
		if !strings.Contains(res.Say, c.want) || c.want == "" && strings.Contains(res.Say, "--job") {
			t.Errorf("open %s: %q", c.job, res.Say)
		}
		if res := r.act(capture.Act{Verb: capture.ActNote, Text: "which is it"}); res.Job != c.job {
			t.Errorf("a note without a job went to %s", res.Job)
		}
	}
	for _, c := range []struct{ job, want string }{
		{"AB-0149", "Job AB-0149 is closed. Job AB-0148 is still open: commands without --job go to it from now on."},
		{"AB-0147", "Job AB-0147 is closed. Job AB-0148 is still open: commands without --job go to it from now on."},
		{"AB-0148", "Job AB-0148 is closed."},
	} {
		res, err := r.Act(t.Context(), c.job, capture.Act{Verb: capture.ActClose})
		r.must(err)
		if res.Say != c.want {
			t.Errorf("close %s: %q", c.job, res.Say)
		}
	}
}
