package dashboards_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

func TestErrorsAreProblemDocuments(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	post := func(path, body string) req { return req{method: "POST", path: path, body: body, head: bearer} }
	for name, c := range map[string]struct {
		q      req
		status int
		hint   bool
	}{
		"not JSON":           {post("/api/v1/acts", "{"), 400, true},
		"two documents":      {post("/api/v1/acts", `{"verb":"note","text":"x"} {}`), 400, false},
		"misspelt member":    {post("/api/v1/acts", `{"verb":"note","txt":"x"}`), 400, true},
		"empty body":         {post("/api/v1/acts", ""), 400, true},
		"a form to the API":  {req{method: "POST", path: "/api/v1/acts", body: "verb=note", head: with(bearer, "Content-Type", "application/x-www-form-urlencoded")}, 400, false},
		"unknown act":        {post("/api/v1/acts", `{"verb":"explode"}`), 400, true},
		"open by act":        {post("/api/v1/acts", `{"verb":"open"}`), 400, true},
		"unknown stage":      {post("/api/v1/acts", `{"verb":"stage","stage":"lunch"}`), 400, true},
		"empty note":         {post("/api/v1/acts", `{"verb":"note","text":"  "}`), 400, false},
		"heard what":         {post("/api/v1/acts", `{"verb":"heard"}`), 400, true},
		"output maybe":       {post("/api/v1/acts", `{"verb":"output","subject":"supply","text":"maybe"}`), 400, false},
		"job without number": {post("/api/v1/jobs", `{"rails":"+5 2%"}`), 400, true},
		"job without rails":  {post("/api/v1/jobs", `{"job":"AB-0148"}`), 400, true},
		"job with bad rail":  {post("/api/v1/jobs", `{"job":"AB-0148","rail_list":[{"name":"x","nominal":5,"target":9,"bounds":{"low":4,"high":6},"short_below":5}]}`), 400, false},
		"placement nowhere":  {post("/api/v1/placements", `{}`), 400, true},
		"half an entry":      {post("/api/v1/entries", `{"text":"5.02"}`), 400, true},
		"both entries":       {post("/api/v1/entries", `{"note":"x","rail":"y","text":"5.02"}`), 400, true},
		"readings of what":   {req{path: "/api/v1/readings"}, 400, true},
		"readings when":      {req{path: "/api/v1/readings?rail=x&from=noon"}, 400, true},
		"readings backwards": {req{path: "/api/v1/readings?rail=x&from=20&to=10"}, 400, false},
		"readings how many":  {req{path: "/api/v1/readings?rail=x&points=-1"}, 400, false},
		"unknown quantity":   {req{path: "/api/v1/readings?rail=x&quantity=luck"}, 400, false},
		"unknown job":        {req{path: "/api/v1/rails?job=AB-9999"}, 404, true},
		"unknown open job":   {req{path: "/api/v1/jobs/AB-9999"}, 404, true},
		"unknown route":      {req{path: "/api/v1/weather"}, 404, true},
		"wrong method":       {req{method: "DELETE", path: "/api/v1/jobs"}, 404, true},
		"unknown page":       {req{path: "/api/v1/stream?page=weather"}, 404, false},
		"export of no job":   {req{path: "/api/v1/jobs/none/export"}, 404, false},
	} {
		resp, body := call(t, srv, c.q)
		if resp.StatusCode != c.status || resp.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: %d %s\n%s", name, resp.StatusCode, resp.Header.Get("Content-Type"), body)
			continue
		}
		p := problem(t, body)
		path, _, _ := strings.Cut(c.q.path, "?")
		if p.Status != c.status || p.Title == "" || p.Detail == "" || p.Instance != path || !strings.HasPrefix(p.Type, "/problems/") || c.hint != (p.Hint != "") {
			t.Errorf("%s: %+v", name, p)
		}
		if resp, _ := call(t, srv, req{path: p.Type}); resp.StatusCode != 200 {
			t.Errorf("%s: type %s leads nowhere", name, p.Type)
		}
	}
	if len(b.acts()) != 0 {
		t.Errorf("did %v", b.acts())
	}
}

func TestKindsOfTheBenchBecomeStatus(t *testing.T) {
	for kind, status := range map[dashboards.Kind]int{dashboards.NotFound: 404, dashboards.Conflict: 409, dashboards.Refused: 422, dashboards.NotAllowed: 403, dashboards.Unavailable: 503, dashboards.Invalid: 400} {
		b := newFake(night())
		b.fails = fmt.Errorf("place: %w", &dashboards.Error{Kind: kind, Detail: "rail +5 V logic is on the mains side", Hint: "use an isolated meter"})
		resp, body := call(t, serve(t, b), req{method: "POST", path: "/api/v1/placements", body: `{"channel":"dmm/volts","rail":"+5 V logic","hold":"clipped"}`, head: bearer})
		if p := problem(t, body); resp.StatusCode != status || p.Hint != "use an isolated meter" || !strings.Contains(p.Detail, "mains side") {
			t.Errorf("%s: %d %+v", kind, resp.StatusCode, p)
		}
	}
	b := newFake(night())
	b.fails = errors.New("no such table")
	if resp, _ := call(t, serve(t, b), req{path: "/api/v1/jobs"}); resp.StatusCode != 500 {
		t.Errorf("unknown error: %d", resp.StatusCode)
	}
}

func TestActsReachTheBench(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	for _, c := range []struct{ path, body, did string }{
		{"/api/v1/acts", `{"verb":"note","text":"tap test"}`, "note   tap test 0"},
		{"/api/v1/acts", `{"verb":"heard","subject":"collapse +5 V logic@7"}`, "heard collapse +5 V logic@7   0"},
		{"/api/v1/acts", `{"verb":"reset latch","subject":"a@1"}`, "reset latch a@1   0"},
		{"/api/v1/acts", `{"verb":"soak","text":"start","value":28800}`, "soak   start 28800"},
		{"/api/v1/acts", `{"verb":"judge stand-in","subject":"+5 V logic","text":"{}"}`, "judge stand-in +5 V logic  {} 0"},
		{"/api/v1/acts", `{"verb":"stage","stage":"trim"}`, "stage  trim  0"},
		{"/api/v1/acts", `{"verb":"output","subject":"supply","text":"off"}`, "output supply  off 0"},
		{"/api/v1/placements", `{"channel":"dmm/volts","rail":"+5 V logic","hold":"clipped"}`, "place dmm/volts on +5 V logic clipped"},
		{"/api/v1/entries", `{"rail":"+5 V logic","text":"5,02"}`, "enter 5,02 on +5 V logic"},
		{"/api/v1/entries", `{"note":"warm"}`, "note   warm 0"},
		{"/api/v1/jobs", `{"job":"AB-0148","rail_list":[{"name":"+5 V","nominal":5,"target":5,"bounds":{"low":4.9,"high":5.1},"short_below":5}]}`, "open AB-0148 with 1 rails"},
		{"/api/v1/reload", ``, "reload"},
		{"/api/v1/notifiers/webhook%20http:%2F%2F127.0.0.1:9999/test", ``, "test webhook http://127.0.0.1:9999"},
	} {
		resp, body := call(t, srv, req{method: "POST", path: c.path, body: c.body, head: bearer})
		got := b.acts()
		if resp.StatusCode/100 != 2 || len(got) == 0 || got[len(got)-1] != c.did {
			t.Errorf("%s %s: %d %s, did %q", c.path, c.body, resp.StatusCode, body, got)
		}
		var res dashboards.Result
		if err := json.Unmarshal([]byte(body), &res); err != nil || res.Say == "" {
			t.Errorf("%s: answer %s", c.path, body)
		}
	}
}

// JSON alone would turn 5.020 to 5.02: the text keeps the meter's digits.
func TestNumbersKeepTheirDigits(t *testing.T) {
	s := night()
	s.Jobs[0].Rails[0].Volts.Reading.Value = 5.02
	s.Jobs[0].Rails[2].Volts.Reading.Flags = capture.OverRange
	_, body := call(t, serve(t, newFake(s)), req{path: "/api/v1/rails"})
	var got struct {
		Job   string
		Rails []struct {
			Rail  struct{ Name string }
			Volts struct {
				Value      *float64
				Text, Unit string
				Resolution float64
				Age        float64 `json:"age_seconds"`
				Present    bool
				Flags      string
			}
		}
	}
	if err := json.Unmarshal([]byte(body), &got); err != nil {
		t.Fatal(err)
	}
	if v := got.Rails[0].Volts; v.Text != "5.020" || *v.Value != 5.02 || v.Resolution != .001 || v.Unit != "V" || v.Age != .2 || !v.Present {
		t.Errorf("%+v", v)
	}
	if v := got.Rails[2].Volts; v.Value != nil || v.Text != "" || v.Present || v.Flags != "over_range" {
		t.Errorf("a reading without a value: %+v", v)
	}
}

func TestReadingsAreBucketsThatHideNothing(t *testing.T) {
	srv := serve(t, newFake(night()))
	_, body := call(t, srv, req{path: "/api/v1/readings?rail=%2B5%20V%20logic&from=2026-11-24T22:41:00Z&points=99999"})
	var got struct {
		Rail, Unit, Reduced string
		Points              int
		Buckets             []struct {
			N, Bad         int
			Min, Max, Mean *float64
		}
	}
	if err := json.Unmarshal([]byte(body), &got); err != nil {
		t.Fatal(err)
	}
	if got.Rail != "+5 V logic" || got.Unit != "V" || got.Points != 2000 || !strings.Contains(got.Reduced, "exact") || len(got.Buckets) != 200 {
		t.Errorf("%+v", got)
	}
	if b := got.Buckets[3]; b.N != 0 || b.Bad != 2 || b.Min != nil || b.Mean != nil {
		t.Errorf("a hole has numbers: %+v", b)
	}
	if b := got.Buckets[0]; b.N != 25 || *b.Min >= *b.Max {
		t.Errorf("%+v", b)
	}
}

func TestOpenSidesAreNull(t *testing.T) {
	s := night()
	s.Jobs[0].Rails[0].Rail.Bounds.High = math.Inf(1)
	resp, body := call(t, serve(t, newFake(s)), req{path: "/api/v1/rails"})
	if resp.StatusCode != 200 || !strings.Contains(body, `"high":null`) {
		t.Errorf("%d %.300s", resp.StatusCode, body)
	}
}

func TestHalfAnExportIsNotAFile(t *testing.T) {
	srv := serve(t, newFake(night()))
	resp, err := http.Get(srv.URL + "/api/v1/jobs/torn/export")
	if err == nil {
		defer resp.Body.Close()
		_, err = resp.Body.Read(make([]byte, 1<<16))
		for err == nil {
			_, err = resp.Body.Read(make([]byte, 1<<16))
		}
		if err.Error() == "EOF" {
			t.Error("a torn export ends like a whole one")
		}
	}
	srv.Client().CloseIdleConnections()
}

func TestReportAndExport(t *testing.T) {
	srv := serve(t, newFake(night()))
	resp, body := call(t, srv, req{path: "/api/v1/jobs/AB-0147/export"})
	if resp.Header.Get("Content-Type") != "text/csv; charset=utf-8" || !strings.Contains(resp.Header.Get("Content-Disposition"), "AB-0147.csv") || !strings.HasPrefix(body, "at,") {
		t.Errorf("%v %s", resp.Header, body)
	}
	if _, body := call(t, srv, req{path: "/api/v1/jobs/AB-0147/export?decimal=comma"}); !strings.HasPrefix(body, "at;") {
		t.Errorf("with a decimal comma: %s", body)
	}
	if resp, body := call(t, srv, req{path: "/api/v1/jobs/AB-0147/export?decimal=dot"}); resp.StatusCode != 422 && resp.StatusCode != 400 || !strings.Contains(body, "point or comma") {
		t.Errorf("with a sign that does not exist: %d %s", resp.StatusCode, body)
	}
	for _, path := range []string{"/report", "/api/v1/jobs/AB-0147/report"} {
		resp, _ := call(t, srv, req{path: path})
		if csp := resp.Header.Get("Content-Security-Policy"); resp.StatusCode != 200 || !strings.Contains(csp, "style-src 'unsafe-inline'") || strings.Contains(csp, "script-src") {
			t.Errorf("%s: %d %q", path, resp.StatusCode, csp)
		}
	}
}

func TestHealth(t *testing.T) {
	srv := serve(t, newFake(live.Snapshot{}), func(o *dashboards.Options) { o.Ready = func() error { return errors.New("workspace is being opened") } })
	if resp, _ := call(t, srv, req{path: "/healthz"}); resp.StatusCode != 200 {
		t.Errorf("healthz %d", resp.StatusCode)
	}
	if resp, body := call(t, srv, req{path: "/readyz"}); resp.StatusCode != 503 || !strings.Contains(body, "being opened") {
		t.Errorf("readyz %d %s", resp.StatusCode, body)
	}
}
