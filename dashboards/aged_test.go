package dashboards_test

import (
	"net/http"
	"strings"
	"testing"

	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// A cold check that is older than work on the board is told before anybody asks for
// a permit: at the head of the bench and beside the buttons, in the words of the
// refusal; and only where something can be switched on.
func TestAgedColdChecksAreToldBesideTheOutputs(t *testing.T) {
	const why = "the cold check is older than work on the board: +5 V logic passed last at 10:42, then C14 was put back at 10:51"
	aged := func(o *dashboards.Options) {
		o.ColdAged = func(string) (string, string) { return why, "with no power, read +5 V logic in ohms again" }
	}
	says := func(path string, s live.Snapshot, with ...func(*dashboards.Options)) int {
		t.Helper()
		srv := serve(t, newFake(s), with...)
		cookie, _ := session(t, srv)
		res, body := call(t, srv, req{path: path, head: map[string]string{"Cookie": cookie}})
		if res.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d", path, res.StatusCode)
		}
		text := strings.ReplaceAll(body, "\u00a0", " ")
		if n := strings.Count(text, "With no power, read &#43;5 V logic in ohms again."); n != strings.Count(text, "Switch supply, psu/1, psu/2 on: the cold check is older than work on the board: &#43;5 V logic passed last at 10:42, then C14 was put back at 10:51.") {
			t.Errorf("%s: told without what to do", path)
		}
		return strings.Count(text, "older than work on the board")
	}
	if n := says("/", waits(), aged); n != 1 {
		t.Errorf("bench: said %d times", n)
	}
	if n := says("/job", waits(), aged); n != 1 {
		t.Errorf("job: said %d times", n)
	}
	none := waits()
	none.Instruments = nil
	if n := says("/", none, aged) + says("/", waits()); n != 0 {
		t.Errorf("nothing to switch, or nothing aged: said %d times", n)
	}
}
