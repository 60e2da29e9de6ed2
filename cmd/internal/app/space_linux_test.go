package app_test

import (
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture/live"
	"steadyrail/configs"
)

// A disk of three megabytes is told of on the screens and on the metrics page.
func TestLittleRoomIsTold(t *testing.T) {
	t.Parallel()
	dir := tinyDisk(t)
	r := newRig(t, 5, func(c *configs.Config) { c.Workspace = filepath.Join(dir, "bench") })
	r.until("it is said that room is scarce", func(s live.Snapshot) bool {
		return len(s.Notices) == 1 && strings.Contains(s.Notices[0], "MB free; how fast the record grows is not known yet") &&
			strings.Contains(s.Notices[0], "steadyrail backup")
	})
	_, page := r.ask(http.MethodGet, "/metrics", "")
	if !strings.Contains(page, "\nsteadyrail_workspace_free_bytes ") || strings.Contains(page, "\nsteadyrail_workspace_growth_bytes_per_second ") {
		t.Error("the metrics page does not say what is free, or knows a rate after a moment")
	}
	r.stop()
}
