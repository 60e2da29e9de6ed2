package dashboards_test

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"steadyrail/capture/live"
)

var (
	// typed is what stays as it is: markup, code, what people typed, and what is quoted
	// to be pasted.
	typed  = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<textarea.*?</textarea>|<code>.*?</code>|<pre>.*?</pre>|<p class="quote">.*?</p>|<[^>]*>`)
	hyphen = regexp.MustCompile(`(?:^|[ (:,;\x{00a0}])-\d`)
)

// One rail has one spelling: on every page the minus is the true one, whatever the
// record, the rules and the alarms have.
func TestOneMinusOnEveryPage(t *testing.T) {
	ascii := func(s live.Snapshot) live.Snapshot {
		for i := range s.Jobs {
			j := &s.Jobs[i]
			for k := range j.Sheet.Rails {
				j.Sheet.Rails[k].Name = strings.ReplaceAll(j.Sheet.Rails[k].Name, "\u2212", "-")
			}
			for k := range j.Rails {
				r := &j.Rails[k]
				r.Rail.Name, r.Placement.Rail = strings.ReplaceAll(r.Rail.Name, "\u2212", "-"), strings.ReplaceAll(r.Placement.Rail, "\u2212", "-")
				for v := range r.Verdicts {
					r.Verdicts[v].Say += ", unlike -12 V audio at -12.1 V"
				}
			}
			for k := range j.Entries {
				j.Entries[k].Text = "dmm3/volts is on -12 V audio"
			}
		}
		return s
	}
	srv := serve(t, newFake(ascii(night())))
	cookie, _ := session(t, srv)
	seen := 0
	for _, path := range []string{"/", "/rail/-12%20V%20audio", "/job", "/alarms", "/rules", "/trim?rail=-12%20V%20audio", "/soak", "/isolate", "/walk", "/standin", "/health", "/discharge", "/reports"} {
		_, page := call(t, srv, req{path: path, head: map[string]string{"Cookie": cookie}})
		for _, text := range strings.Split(typed.ReplaceAllString(page, "\n"), "\n") {
			if text = html.UnescapeString(text); hyphen.MatchString(text) {
				t.Errorf("%s: %q", path, text)
			}
			seen += strings.Count(text, "\u2212")
		}
		for _, option := range regexp.MustCompile(`<option[^>]*>[^<]*`).FindAllString(page, -1) {
			if strings.Contains(option, "12 V audio") && !strings.Contains(option, ` value="`) {
				t.Errorf("%s sends what it shows: %s", path, option)
			}
		}
		if strings.Contains(page, "value=\"\u2212") {
			t.Errorf("%s: a value is sent with a true minus", path)
		}
	}
	if seen < 20 {
		t.Errorf("only %d minus signs: nothing was looked at", seen)
	}
}
