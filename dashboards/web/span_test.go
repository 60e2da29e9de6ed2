package web

import "testing"

// The lengths of a rail's history stay with the job that is looked at.
func TestSpansStayWithTheirJob(t *testing.T) {
	for job, want := range map[string]string{"": "/rail/+3.3%20V%20DSP?span=1h", "AB 0139": "/rail/+3.3%20V%20DSP?job=AB+0139&span=1h"} {
		m := bench("soak", 3.3, .001)
		m.Rail, m.Job = m.Snapshot.Jobs[0].Rails[0].Rail.Name, job
		if job != "" {
			m.Snapshot.Jobs[0].Sheet.Job = job
		}
		v := newView("rail", m)
		if v.Rail == nil || v.Rail.Spans[1].Link != want {
			t.Errorf("job %q: %+v", job, v.Rail)
		}
	}
}
