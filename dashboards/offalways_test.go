package dashboards_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"steadyrail/capture/live"
)

// benchAlone is a bench with supplies and without a job.
func benchAlone() live.Snapshot {
	return live.Snapshot{Now: start, Bench: "east", Speed: 1, Instruments: waits().Instruments}
}

// With no job open each output can be switched off on the bench page, and none on:
// that is a job's. Who only looks has no button.
func TestOffWithoutAJob(t *testing.T) {
	ctx := browser(t)
	b := newFake(benchAlone())
	srv := serve(t, b)
	names := chromedp.Evaluate[string](`[...document.querySelectorAll('#part-facts .off button')].map((b) => b.textContent).join(', ')`)
	do(t, ctx, chromedp.Navigate(srv.URL+"/"), chromedp.WaitReady(chromedp.CSS("main")))
	if got := get(t, ctx, names); got != "" {
		t.Errorf("looking only: %s", got)
	}
	do(t, ctx, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")))
	if got, want := get(t, ctx, names), "Switch supply off, Switch all of psu off, Switch psu output 1 off, Switch psu output 2 off"; got != want {
		t.Errorf("buttons: %s", got)
	}
	do(t, ctx, chromedp.Click(chromedp.CSS(".off button")))
	until(t, ctx, "the answer", "document.querySelector('#said').textContent === 'Done.'")
	if got := b.acts(); len(got) != 1 || got[0] != "output supply  off 0" {
		t.Errorf("did %q", got)
	}
	b.change(func(s *live.Snapshot) {
		for i := range s.Instruments {
			s.Instruments[i].Up = false
		}
	})
	until(t, ctx, "nothing answers", `!document.querySelector('.off')`)
}
