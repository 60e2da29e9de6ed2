package cli_test

import (
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/rules"
)

// powered holds that the demo's formula gave the power into the set while it
// was fed: figures with an uncertainty, of some ten watts, and more figures than
// times without one.
func powered(t *testing.T, path string) {
	t.Helper()
	figures, stated, most, without := 0, 0, 0.0, 0
	err := app.ReadFile(t.Context(), path, func(f *store.Job, b *job.Book) error {
		if set := b.Rules(); len(set.Formulas) != 1 || set.Formulas[0].Unit != "W" {
			t.Errorf("formulas on record: %+v", set.Formulas)
		}
		e := rules.New("")
		take := func(rec capture.Record) {
			for _, d := range e.Consume(rec).Derived {
				switch {
				case d.Why != "":
					without++
				default:
					figures++
					most = max(most, d.Reading.Value)
				}
				if d.Uncertainty > 0 {
					stated++
				}
			}
		}
		last := capture.Instant(0)
		return f.Records(t.Context(), 0, 0, func(rec capture.Record) error {
			if last != 0 {
				capture.Ticks(last, rec.At, func(at capture.Instant) bool {
					take(capture.Record{At: at, Item: capture.Tick{}})
					return true
				})
			}
			last = rec.At
			take(rec)
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d figures of the power into the set, up to %g W, %d times none", figures, most, without)
	if figures < 100 || stated < 100 || most < 1 || most > 100 || without > figures {
		t.Errorf("%d figures (%d with an uncertainty), up to %g W; %d times none", figures, stated, most, without)
	}
}
