package app_test

import (
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// The cold checks of another open job hold an output off as well, as long as it
// may feed rails there: its channel stands in that job, a rail is fed from it, or
// its protection was set there. A trip that the configuration writes into every
// job is no such sign.
func TestPermitLooksAtEveryJobThatAnOutputFeeds(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, withTrip)
	r.open(jobID)
	r.open(secondJob)
	named := func(what string, job string, want bool) {
		t.Helper()
		_, err := r.Permit(t.Context(), jobID, dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
		if err == nil || strings.Contains(err.Error(), "in job "+job+", which it may feed as well, the cold check of "+five) != want {
			t.Errorf("%s: %v", what, err)
		}
	}
	at := func(point string) {
		t.Helper()
		_, err := r.Place(t.Context(), secondJob, capture.Placement{Channel: "supply/volts", Point: point})
		r.must(err)
	}
	named("two jobs that trip it", secondJob, false)
	at("into the stand-in")
	named("it stands in the second", secondJob, true)
	at("")
	named("it was taken off there", secondJob, false)
	r.in(secondJob, capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: feedLimits})
	named("its protection was set there", secondJob, true)
	r.in(secondJob, capture.Act{Verb: capture.ActClose})
	named("the second is closed", secondJob, false)

	const third = "AB-0149"
	fed := sheet(t, third)
	fed.Rails = slices.Clone(fed.Rails)
	fed.Rails[0].FedFrom = sim.Supply
	_, err := r.OpenJob(t.Context(), fed)
	r.must(err)
	named("a rail of the third is fed from it", third, true)
	_, err = r.Permit(t.Context(), jobID, dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	refused(t, "what to do", err, dashboards.Refused, "--job "+third, "take supply off its rails")
}
