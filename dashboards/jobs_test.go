package dashboards_test

import (
	"net/http"
	"strings"
	"testing"

	"steadyrail/capture/live"
)

// two is a bench with two open jobs: the one opened first is in trouble.
func two() live.Snapshot {
	s := night()
	first := trouble().Jobs[0]
	first.Sheet.Job, first.Sheet.Set = "AB-0139", "Alderbrook 88 stage piano, the second"
	s.Jobs = append([]live.JobView{first}, s.Jobs...)
	return s
}

// Every open job stands on the bench's screen, with its rails and what is wrong
// there; a link stays with a job on every page.
func TestEveryJobOnTheBench(t *testing.T) {
	s := two()
	srv := serve(t, newFake(s))
	newest := s.Jobs[1].Sheet.Job
	_, body := call(t, srv, req{path: "/"})
	body = strings.NewReplacer("&#43;", "+", "\u00a0", " ", "\u202f", " ").Replace(body)
	for _, want := range []string{"<h1>Job AB-0139: +5 V logic collapsed</h1>", `href="/?job=AB-0139"`, `href="/rail/+3.3%20V%20DSP?job=AB-0139"`, `data-job="` + newest + `"`, `href="/alarms"`} {
		if !strings.Contains(body, want) {
			t.Errorf("the bench does not have %s", want)
		}
	}
	if strings.Count(body, `class="lane`) < 2*len(s.Jobs[0].Rails) {
		t.Error("not every rail of both jobs has a lane")
	}
	for _, page := range []string{"/", "/alarms", "/job", "/rules", "/standin", "/rail/+3.3%20V%20DSP"} {
		resp, body := call(t, srv, req{path: page + "?job=AB-0139"})
		if resp.StatusCode != http.StatusOK || !strings.Contains(body, `data-job="AB-0139"`) || !strings.Contains(body, `<a href="/alarms?job=AB-0139"`) {
			t.Errorf("%s does not stay with its job: %d", page, resp.StatusCode)
		}
	}
	if resp, _ := call(t, srv, req{path: "/rail?job=AB-0139"}); !strings.HasSuffix(resp.Header.Get("Location"), "?job=AB-0139") {
		t.Errorf("to the rail in work: %s", resp.Header.Get("Location"))
	}
	if _, body := call(t, srv, req{path: "/?job=closed"}); !strings.Contains(body, `data-job="`+newest+`"`) {
		t.Error("a job that is not open is not the newest one")
	}
	one := night()
	one.Jobs = one.Jobs[:1]
	if _, body := call(t, serve(t, newFake(one)), req{path: "/"}); strings.Contains(body, "?job=") || strings.Contains(body, `class="other"`) {
		t.Error("one job alone is not shown plainly")
	}
}
