package app_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers/sim"
)

const secondJob = "AB-0148"

// two opens a second job whose alarms trip the same supply.
func two(t *testing.T) *rig {
	t.Helper()
	r := newRig(t, 4, withTrip)
	r.open(jobID)
	r.open(secondJob)
	return r
}

// in does an act in a job, also where the computer is busy.
func (r *rig) in(job string, a capture.Act) string {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		res, err := r.Act(r.t.Context(), job, a)
		if err == nil {
			return res.Say
		}
		r.unlessBusy(err, end)
	}
}

// saidIn is what a job's trip says, see [said].
func saidIn(s live.Snapshot, job string) string {
	j, _ := s.Job(job)
	return said(live.Snapshot{Jobs: []live.JobView{j}})
}

// Limits that are set in one job put what another one programmed on the same
// supply in doubt: it is read back there, and armed only if it still is as it was.
func TestLimitsInAnotherJob(t *testing.T) {
	t.Parallel()
	r := two(t)
	limits := capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: feedLimits}
	r.in(jobID, limits)
	armed := func(job, says string) {
		t.Helper()
		r.until(job+" says "+says, func(s live.Snapshot) bool { return strings.HasPrefix(saidIn(s, job), says) })
	}
	armed(jobID, "Trip armed")
	limits.Text = "volts 12, amperes 1"
	if say := r.in(secondJob, limits); strings.Contains(say, jobID) {
		t.Errorf("set-points alone touch no protection: %s", say)
	}
	limits.Text = "over-voltage 26.0, over-current 2.20"
	if say := r.in(secondJob, limits); strings.Contains(say, jobID) {
		t.Errorf("the same protection: %s", say)
	}
	armed(jobID, "Trip armed")
	armed(secondJob, "Trip armed")
	limits.Text = "over-voltage 30, over-current 3"
	if say := r.in(secondJob, limits); !strings.Contains(say, "Job "+jobID+" programmed another protection there") {
		t.Errorf("set otherwise: %s", say)
	}
	armed(jobID, "Trip not armed: the protection of supply was set in job "+secondJob)
	armed(secondJob, "Trip armed")
	r.until("an urgent alarm of it", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		return slices.ContainsFunc(j.Alarms, func(a capture.Transition) bool {
			return a.Kind == "trip" && a.Severity == capture.Urgent && strings.Contains(a.Advice, "set its limits again")
		})
	})
	limits.Text = feedLimits
	r.in(jobID, limits)
	armed(jobID, "Trip armed")
	armed(secondJob, "Trip not armed")
}

// What is done to an output stands in every job that it concerns, whoever's job
// it was done in; and off goes with no job at all.
func TestOutputOfSeveralJobs(t *testing.T) {
	t.Parallel()
	r := two(t)
	r.in(jobID, capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off", By: "R. Hale"})
	for _, job := range []string{jobID, secondJob} {
		r.in(job, capture.Act{Verb: capture.ActClose})
	}
	say := r.in("", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	if !strings.Contains(say, "read back") || !strings.Contains(say, "no job is open") {
		t.Errorf("with no job: %s", say)
	}
	if status, body := r.ask("POST", "/api/v1/acts", `{"verb":"output","subject":"supply","text":"off"}`, r.withToken); status != 201 {
		t.Errorf("over HTTP: %d %s", status, body)
	}
	if status, _ := r.ask("POST", "/api/v1/acts", `{"verb":"output","subject":"lamp","text":"off"}`, r.withToken); status != 404 {
		t.Errorf("no such instrument: %d", status)
	}
	r.stop()
	for _, job := range []string{jobID, secondJob} {
		var got []string
		for _, rec := range r.read(job).acts(capture.ActOutput, sim.Supply) {
			a := rec.Item.(capture.Act)
			got = append(got, a.Text+" "+a.By)
		}
		if !slices.Equal(got, []string{"switching off R. Hale", "off R. Hale"}) {
			t.Errorf("%s: %q", job, got)
		}
	}
}
