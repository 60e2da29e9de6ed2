package web

import (
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestEveryPageHasItsNameAndPlace holds the two tables of pages together: each
// page is named, and no stage leads to two.
func TestEveryPageHasItsNameAndPlace(t *testing.T) {
	if len(screens) != len(parts) {
		t.Errorf("%d pages named, %d drawn", len(screens), len(parts))
	}
	leads := map[capture.Stage][]string{}
	for page, s := range screens {
		if !Has(page) || s.Name == "" {
			t.Errorf("page %s: drawn %v, name %q", page, Has(page), s.Name)
		}
		for _, stage := range s.Stages {
			if s.Path != "" {
				leads[stage] = append(leads[stage], page)
			}
		}
	}
	for _, stage := range capture.Stages() {
		if n := len(leads[stage]); n > 1 || n == 0 && stage != capture.SignOff {
			t.Errorf("%s leads to %v", stage, leads[stage])
		}
	}
}

// TestStagesLeadToTheirPages follows the line of stages of a job that is not the
// one opened last.
func TestStagesLeadToTheirPages(t *testing.T) {
	m := bench(capture.Trim, 3.3, .001)
	m.Job = m.Snapshot.Jobs[0].Sheet.Job
	q := "?job=" + m.Job
	want := []string{"/job" + q, "/walk" + q, "/isolate" + q, "/" + q, "/standin" + q, "/trim" + q, "/trim" + q, "/soak" + q, "/soak" + q, "/api/v1/jobs/" + m.Job + "/report"}
	var got []string
	for _, s := range newView("bench", m).Stops() {
		got = append(got, s.Link)
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	m.Job = ""
	if stops := newView("bench", m).Stops(); stops[9].Link != "/report" || stops[1].Link != "/walk" {
		t.Errorf("of the job opened last: %+v", stops)
	}
}

func TestThePageShownIsMarkedOnce(t *testing.T) {
	for _, c := range []struct {
		page  string
		stage capture.Stage
		want  []string
	}{
		{"job", capture.Trim, []string{"take-in page"}},
		{"walk", capture.ColdChecks, []string{"cold checks page"}},
		{"discharge", capture.ColdChecks, []string{"cold checks true"}},
		{"trim", capture.Preset, []string{"preset page"}},
		{"trim", capture.Trim, []string{"trim page"}},
		{"trim", capture.Soak, []string{"preset page"}},
		{"soak", capture.Soak, []string{"soak page"}},
		{"soak", capture.Isolate, []string{"warm-up page"}},
		{"alarms", capture.Soak, nil},
	} {
		var got []string
		for _, s := range newView(c.page, bench(c.stage, 3.3, .001)).Stops() {
			if s.Shown != "" {
				got = append(got, s.Name+" "+s.Shown)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s in %s: %q, want %q", c.page, c.stage, got, c.want)
		}
	}
}

func TestWithoutAJobTheToolsStand(t *testing.T) {
	m := bench(capture.Trim, 3.3, .001)
	m.Snapshot.Jobs = nil
	body := pageText(t, "bench", m)
	for _, want := range []string{`href="/standin"`, `href="/standin#limiter"`, `href="/discharge"`, `href="/job#plan"`} {
		if !strings.Contains(body, want) {
			t.Errorf("no %s", want)
		}
	}
	if strings.Contains(body, `class="stages"`) {
		t.Error("a line of stages without a job")
	}
	m.Plans = true
	if body := pageText(t, "job", m); !strings.Contains(body, `<details id="plan"`) {
		t.Error("a soak cannot be planned without a job")
	}
}
