package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/drivers/sim"
)

// One open job whose file is damaged does not keep the bench from the others,
// and everybody is told that it is not watched.
func TestDamagedJobIsLeftOutLoudly(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open("AB-0146")
	r.open(jobID)
	r.stop()
	file := filepath.Join(r.cfg.Workspace, "jobs", "AB-0146"+store.Extension)
	r.must(os.WriteFile(file, []byte("not a job"), 0o600))
	r.start()
	s := r.Snapshot()
	if len(s.Jobs) != 1 || s.Jobs[0].Sheet.Job != jobID {
		t.Errorf("jobs %+v", s.Jobs)
	}
	if len(s.Notices) != 1 || !strings.Contains(s.Notices[0], "AB-0146") || !strings.Contains(s.Notices[0], "not watched") {
		t.Errorf("notices %q", s.Notices)
	}
	if code, body := r.ask("GET", "/readyz", ""); code != 503 || !strings.Contains(body, "AB-0146") {
		t.Errorf("readyz: %d %s", code, body)
	}
	if _, page := r.ask("GET", "/", ""); !strings.Contains(page, "AB-0146 cannot be continued") {
		t.Error("the bench page does not say so")
	}
	r.put(sim.DMM, five, sim.Point5, capture.Clipped)
	r.stop()
	if b, err := os.ReadFile(file); err != nil || string(b) != "not a job" {
		t.Errorf("the damaged file was touched: %q, %v", b, err)
	}
}
