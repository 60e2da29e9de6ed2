package report

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// What a trip did stands in the report with its delay and the longest of all; a
// job without one does not speak of trips.
func TestTrips(t *testing.T) {
	entry := func(text, by, say string, v float64) capture.Entry {
		return capture.Entry{At: 1_800_000_000_000_000, Stage: capture.Soak, Act: capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text, By: by, Value: v}, Text: say}
	}
	d := capture.Dossier{Entries: []capture.Entry{entry("off", "R. Hale", "by hand", 0)}}
	if got := (teller{d, Options{Zone: time.UTC}}).trips(); got != nil {
		t.Errorf("switched by hand, and called a trip: %+v", got)
	}
	d.Entries = append(d.Entries,
		entry("switching off", capture.ByTrip, "announced", 0), entry("off", capture.ByTrip, "one", 0.083),
		entry("off", capture.ByTrip, "two", 0.121), entry("not confirmed off", capture.ByTrip, "three", 0))
	got := teller{d, Options{Zone: time.UTC}}.trips()
	if got == nil || len(got.Rows) != 3 || got.Worst != capture.Second.Text(0.121, 0.001) || !strings.Contains(got.Cautions[0], "second line") {
		t.Errorf("got %+v", got)
	}
}
