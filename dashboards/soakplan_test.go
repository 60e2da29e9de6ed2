package dashboards_test

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// plans answers with what it was asked, or refuses what has no interval.
func plans(asked *capture.SoakQuestion) func(*dashboards.Options) {
	return func(o *dashboards.Options) {
		o.Plan = func(q capture.SoakQuestion) (capture.SoakPlan, error) {
			*asked = q
			if q.Every == 0 {
				return capture.SoakPlan{}, errors.New("cannot plan a soak: how often did it fail before?")
			}
			return capture.SoakPlan{Confidence: 0.95, Clean: 259200, Planned: 259200, Say: []string{"72 h say so <at last>."}}, nil
		}
	}
}

func TestSoakPlanIsAskedWithWhatTheBenchKnows(t *testing.T) {
	var q capture.SoakQuestion
	b := newFake(night())
	srv := serve(t, b, plans(&q))
	var meter capture.ChannelInfo
	for _, c := range night().Channels {
		if c.Info.ID == "dmm/volts" {
			meter = c.Info
		}
	}
	resp, body := call(t, srv, req{path: "/api/v1/soakplan?failed_every=24h&dip=50ms&depth=100&meter=dmm"})
	if resp.StatusCode != 200 || !strings.Contains(body, `"planned":259200`) {
		t.Fatalf("%d %s", resp.StatusCode, body)
	}
	want := capture.SoakQuestion{Every: 24 * time.Hour, Dip: 50 * time.Millisecond, Depth: 1, Meter: "dmm", Aperture: meter.Aperture, Period: meter.Every}
	if q != want || meter.Every == 0 {
		t.Errorf("asked %+v, want %+v", q, want)
	}
	call(t, srv, req{path: "/api/v1/soakplan?failed_every=24h&meter=dmm/volts&aperture=7ms&every=9ms"})
	if q.Aperture != 7*time.Millisecond || q.Period != 9*time.Millisecond {
		t.Errorf("what was said does not win: %+v", q)
	}
	for path, want := range map[string]string{
		"?failed_every=24": "no length of time", "?failed_every=1h&meter=scope": "no meter", "": "how often", "?confidence=5000": "no share",
	} {
		resp, body := call(t, srv, req{path: "/api/v1/soakplan" + path})
		if resp.StatusCode != http.StatusBadRequest || !strings.Contains(body, want) {
			t.Errorf("%s: %d %s", path, resp.StatusCode, body)
		}
	}
	if len(b.acts()) != 0 {
		t.Errorf("a question did %q", b.acts())
	}
	if resp, _ := call(t, serve(t, b), req{path: "/api/v1/soakplan?failed_every=24h"}); resp.StatusCode != http.StatusNotFound {
		t.Errorf("without a planner: %d", resp.StatusCode)
	}
}

// The form asks by the page's address, shows the answer, and offers the length
// that was planned as that of the soak.
func TestSoakPlanOnTheJobPage(t *testing.T) {
	var q capture.SoakQuestion
	now := night()
	now.Jobs[0].Soak = nil
	srv := serve(t, newFake(now), plans(&q))
	cookie, _ := session(t, srv)
	page := func(query url.Values) string {
		_, body := call(t, srv, req{path: "/job?" + query.Encode(), head: map[string]string{"Cookie": cookie}})
		return body
	}
	if body := page(nil); !strings.Contains(body, `<details id="plan"><summary>How long must it soak?</summary>`) || !strings.Contains(body, `name="hours" inputmode="decimal" value="8"`) || !strings.Contains(body, `<option value="dmm/volts">dmm/volts</option>`) {
		t.Errorf("nothing asked:\n%s", body)
	}
	body := page(url.Values{"failed_every": {"1 day"}, "meter": {"dmm/volts"}, "dip": {`"><script>`}})
	if !strings.Contains(body, `<details id="plan" open>`) || !strings.Contains(body, `role="alert">Dip: `) || strings.Contains(body, "<script>") || !strings.Contains(body, `<option value="dmm/volts" selected>dmm/volts</option>`) {
		t.Errorf("a wrong question:\n%s", body)
	}
	if body = page(url.Values{"failed_every": {"24"}}); !strings.Contains(body, `role="alert">Failed every: &#34;24&#34; is no length`) {
		t.Errorf("a length without a unit:\n%s", body)
	}
	body = page(url.Values{"failed_every": {"1 day"}})
	for _, want := range []string{`value="1 day"`, "72 h say so &lt;at last&gt;.", `name="hours" inputmode="decimal" value="72"`} {
		if !strings.Contains(body, want) {
			t.Errorf("%s is missing in\n%s", want, body)
		}
	}
	if q.Every != 24*time.Hour {
		t.Errorf("asked %+v", q)
	}
	_, body = call(t, serve(t, newFake(now)), req{path: "/job", head: map[string]string{"Cookie": cookie}})
	if strings.Contains(body, "How long must it soak?") {
		t.Error("a form without a planner")
	}
}
