package app_test

import (
	"net/http/httptest"
	"strings"
	"testing"

	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/notify"
)

// A test reaches the receiver marked as one, a receiver that is gone is said
// with its cause and stands on the screens and the metrics page.
func TestTryingNotifiers(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	gone := httptest.NewServer(nil)
	gone.Close()
	r := newRig(t, 5, func(c *configs.Config) {
		c.Notify = []notify.Config{{Kind: "webhook", Name: "shop", URL: url}, {Kind: "webhook", Name: "gone", URL: gone.URL}}
	})
	res, err := r.TestNotifier(t.Context(), "shop")
	if err != nil || !strings.HasPrefix(res.Say, "shop took the test after ") {
		t.Errorf("said %q, %v", res.Say, err)
	}
	if m := <-got; m.Kind != "test" || m.State != "normal" || m.Bench != "east" || !strings.Contains(m.Sentence, "nothing has happened") {
		t.Errorf("told %+v", m)
	}
	_, err = r.TestNotifier(t.Context(), "gone")
	refused(t, "a receiver that is gone", err, dashboards.Unavailable, "refused")
	_, err = r.TestNotifier(t.Context(), "pigeon")
	refused(t, "no such notifier", err, dashboards.NotFound, "shop, gone")
	r.until("the screens know both", func(s live.Snapshot) bool {
		lost := map[string]bool{}
		for _, n := range s.Notifiers {
			if n.Tried {
				lost[n.Name] = n.Lost()
			}
		}
		return len(lost) == 2 && lost["gone"] && !lost["shop"]
	})
	for name, want := range map[string]string{"shop": "1", "gone": "0"} {
		if v := r.metric("steadyrail_notifier_up", `notifier="`+name+`"`); v != want {
			t.Errorf("notifier_up of %s is %q", name, v)
		}
	}
}
