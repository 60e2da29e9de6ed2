package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// text returns what a page says, without its tags.
func text(body string) string {
	body = regexp.MustCompile(`(?s)<(style|script|symbol).*?</(style|script|symbol)>`).ReplaceAllString(body, " ")
	body = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, " ")
	body = strings.NewReplacer("\u00a0", " ", "&#43;", "+", "&nbsp;", " ", "&#34;", `"`).Replace(body)
	return regexp.MustCompile(`\s+`).ReplaceAllString(body, " ")
}

func TestPagesSayTheSentence(t *testing.T) {
	for name, c := range map[string]struct {
		snap live.Snapshot
		path string
		want []string
	}{
		"all well":    {night(), "/", []string{"<title>All four rails inside · AB-0147 · steadyrail</title>", "All four rails inside", "Soak, 2 h 10 min of 8 h. No alarm so far.", "5 .012 V", "0.012 V high of target", "0.2 s ago", "oldest reading 0.2 s", "Soak ends 06:41", "24.02 V"}},
		"alarm":       {trouble(), "/", []string{"<title>ALARM +5 V logic collapsed · AB-0147 · steadyrail</title>", "Low by 1.488 V", "No reading", "Silent 38 s", "last −12.14 V, 00:50:30", "dmm3 asleep?", "muted: +5 V logic feeds it", "Look at the input of the stand-in"}},
		"rail":        {trouble(), "/rail/+3.3%20V%20DSP", []string{"2.716 V", "0.58 V low: turn up", "Band 3.201 to 3.399 V", "limit"}},
		"negative":    {night(), "/rail/%E2%88%9212%20V%20audio", []string{"−12.14 V", "Inside, 0.14 V high: let it settle", "−12.60 to −11.40 V"}},
		"alarms":      {trouble(), "/alarms", []string{"Three alarms open", "Readings that prove it", "00:49:59.800", "3.087 V against 4.900 V, dmm, volts", "Ended", "ended 22:43:00"}},
		"job":         {night(), "/job", []string{"AB-0147, Alderbrook 88 stage piano", "an indication, not evidence", "Take-in", "PS2 convicted", "−12.60 to −11.40 V", "+5 V logic at TP5 against 0 V, clipped"}},
		"eight rails": {eight(), "/", []string{"No probe on it", "Not measured", "+1.2 V core of the signal processor card", `class="lanes dense"`}},
		"first run":   {live.Snapshot{Bench: "east", Now: start}, "/", []string{"No job is open", `steadyrail job open AB-0147 --rails "+5 2%, +12 5%, -12 5%, 3.3 3%"`}},
	} {
		_, body := call(t, serve(t, newFake(c.snap)), req{path: c.path})
		said := text(body)
		for _, w := range c.want {
			if !strings.Contains(said, w) && !strings.Contains(strings.ToLower(said), strings.ToLower(w)) && !strings.Contains(strings.NewReplacer("&#43;", "+").Replace(body), w) {
				t.Errorf("%s does not say %q\n%s", name, w, said)
			}
		}
		if n := strings.Count(body, "<h1"); n != 1 {
			t.Errorf("%s has %d h1", name, n)
		}
		for _, word := range []string{"OK", "error", "Error", "NaN", "%!", "Inf", "<nil>", "ZgotmplZ"} {
			if strings.Contains(said, word) {
				t.Errorf("%s says %q", name, word)
			}
		}
		if strings.Contains(body, " style=") || strings.Contains(body, " onclick=") {
			t.Errorf("%s needs an inline style or script, which its own policy forbids", name)
		}
	}
}

func TestNothingFromOutsideIsMarkup(t *testing.T) {
	bad := `<img src=x onerror=alert(1)>"'`
	s := trouble()
	j := &s.Jobs[0]
	j.Sheet.Set, j.Sheet.Symptom, j.Sheet.Indication = bad, bad, bad
	j.Rails[0].Rail.Name, j.Rails[0].Rail.Point = bad, bad
	j.Alarms[0].Say, j.Alarms[0].Advice, j.Alarms[0].Alarm, j.Alarms[0].Rail = bad, bad, bad, bad
	j.Entries = append(j.Entries, capture.Entry{At: s.Now, Stage: capture.Soak, Act: capture.Act{Verb: capture.ActNote}, Text: bad})
	s.Instruments[0].Info.Title, s.Instruments[0].Problem, s.Instruments[0].Up = bad, bad, false
	srv := serve(t, newFake(s))
	for _, path := range []string{"/", "/job", "/alarms", "/rail/" + url.PathEscape(bad), "/rail/" + url.PathEscape(bad) + "?span=all"} {
		if _, body := call(t, srv, req{path: path}); strings.Contains(body, "<img") {
			t.Errorf("%s lets markup through", path)
		}
	}
	resp, body := call(t, srv, req{path: "/nowhere" + url.PathEscape(bad), head: map[string]string{"Accept": "text/html"}})
	if resp.StatusCode != 404 || strings.Contains(body, "<img") {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
}

func TestResistanceTakesTheLane(t *testing.T) {
	s := night()
	rv := &s.Jobs[0].Rails[0]
	rv.Volts = nil
	rv.Ohms = &live.Last{At: s.Now.Add(-300 * time.Millisecond), Reading: capture.Reading{Channel: "dmm/volts", Quantity: capture.Resistance, Value: .84, Resolution: .01}}
	rv.Verdicts = []capture.Verdict{{Rule: "short +5 V logic", Kind: "short", Outcome: capture.Fail, Say: "+5 V logic: 0.84 Ω, short"}}
	_, body := call(t, serve(t, newFake(s)), req{path: "/"})
	for _, w := range []string{"+5 V logic short", "0 .84 Ω", "short below 5"} {
		if !strings.Contains(text(body), w) {
			t.Errorf("does not say %q\n%s", w, text(body))
		}
	}
	rv.Ohms.Reading.Flags = capture.OverRange
	rv.Verdicts = nil
	if _, body := call(t, serve(t, newFake(s)), req{path: "/"}); !strings.Contains(text(body), "Above the range") {
		t.Errorf("an open circuit is silence: %s", text(body))
	}
}

func TestCannotTellIsSaid(t *testing.T) {
	s := night()
	s.Jobs[0].Rails[0] = railView(s.Jobs[0].Rails[0].Rail, "dmm/volts", 4.91, .01, .03, s.Now)
	_, body := call(t, serve(t, newFake(s)), req{path: "/"})
	for _, w := range []string{"+5 V logic: cannot tell", "Cannot tell", "0.01 V from the edge, meter ± 0.03 V"} {
		if !strings.Contains(text(body), w) {
			t.Errorf("does not say %q\n%s", w, text(body))
		}
	}
}

func TestRailInWork(t *testing.T) {
	s := night()
	s.Jobs[0].Rails[2].Placement.Hold = capture.Touched
	srv := serve(t, newFake(s))
	resp, _ := call(t, srv, req{path: "/rail"})
	if got, _ := url.PathUnescape(resp.Header.Get("Location")); got != "/rail/−12 V audio" {
		t.Errorf("in work: %q", got)
	}
	resp, _ = call(t, srv, req{path: "/trim"})
	if got := resp.Header.Get("Location"); got != "/trim?rail=%E2%88%9212+V+audio" {
		t.Errorf("trim: %q", got)
	}
	if resp, body := call(t, srv, req{path: "/rail/nothing"}); resp.StatusCode != http.StatusNotFound || !strings.Contains(body, "No such rail") {
		t.Errorf("%d", resp.StatusCode)
	}
}

// What a person does on the pages without a script.
func TestFormsWorkWithoutAScript(t *testing.T) {
	b := newFake(trouble())
	srv := serve(t, b)
	cookie, nonce := session(t, srv)
	for _, c := range []struct {
		path   string
		fields url.Values
		did    string
	}{
		{"/acts", url.Values{"verb": {"heard"}, "subject": {"a@1"}}, "heard a@1   0"},
		{"/acts", url.Values{"verb": {"soak"}, "text": {"start"}, "hours": {"0,5"}}, "soak   start 1800"},
		{"/acts", url.Values{"verb": {"mute"}, "subject": {"+5 V logic"}, "minutes": {"15"}}, "mute +5 V logic   900"},
		{"/acts", url.Values{"verb": {"mute"}, "subject": {"+5 V logic"}, "minutes": {"0"}}, "mute +5 V logic   0"},
		{"/acts", url.Values{"verb": {"soak"}, "text": {"stop"}}, "soak   stop 0"},
		{"/acts", url.Values{"verb": {"stage"}, "stage": {"sign-off"}, "text": {"done"}}, "stage  sign-off done 0"},
		{"/placements", url.Values{"channel": {"dmm/volts"}, "rail": {"+5 V logic"}, "hold": {"clipped"}}, "place dmm/volts on +5 V logic clipped"},
		{"/entries", url.Values{"rail": {"+5 V logic"}, "text": {"5.02"}}, "enter 5.02 on +5 V logic"},
	} {
		c.fields.Set("nonce", nonce)
		c.fields.Set("back", "/job")
		resp, body := call(t, srv, req{method: "POST", path: c.path, body: c.fields.Encode(), head: map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}})
		got := b.acts()
		if resp.StatusCode != 303 || resp.Header.Get("Location") != "/job" || len(got) == 0 || got[len(got)-1] != c.did {
			t.Errorf("%s %v: %d, did %q\n%s", c.path, c.fields, resp.StatusCode, got, body)
		}
	}
	for _, minutes := range []string{"", "-1", "NaN", "long", "1e9"} {
		f := url.Values{"verb": {"mute"}, "subject": {"+5 V logic"}, "minutes": {minutes}, "nonce": {nonce}, "back": {"/alarms"}}
		resp, body := call(t, srv, req{method: "POST", path: "/acts", body: f.Encode(), head: map[string]string{"Cookie": cookie, "Accept": "text/html", "Content-Type": "application/x-www-form-urlencoded"}})
		if resp.StatusCode != 400 || !strings.Contains(body, "is not a length") {
			t.Errorf("muted for %q: %d", minutes, resp.StatusCode)
		}
	}
	bad := url.Values{"verb": {"soak"}, "text": {"start"}, "hours": {"long"}, "nonce": {nonce}, "back": {"/job"}}
	resp, body := call(t, srv, req{method: "POST", path: "/acts", body: bad.Encode(), head: map[string]string{"Cookie": cookie, "Accept": "text/html", "Content-Type": "application/x-www-form-urlencoded"}})
	if resp.StatusCode != 400 || !strings.Contains(body, "is not a length") || !strings.Contains(body, `href="/job"`) {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
}

func BenchmarkBenchPage(b *testing.B) {
	h := handlerOf(newFake(eight()))
	for b.Loop() {
		if w := h("/"); w.Code != 200 {
			b.Fatal(w.Code)
		}
	}
}

func handlerOf(f *fakeBench) func(path string) *httptest.ResponseRecorder {
	h := dashboards.New(dashboards.Options{Bench: f, Token: token, Zone: time.UTC})
	return func(path string) *httptest.ResponseRecorder {
		w, r := httptest.NewRecorder(), httptest.NewRequest("GET", "http://127.0.0.1"+path, nil)
		r.RemoteAddr = "127.0.0.1:1"
		h.ServeHTTP(w, r)
		return w
	}
}
