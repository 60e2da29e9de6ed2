package dashboards_test

import (
	"context"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// growing is an isolation to which a lift is added while a page shows it.
type growing struct {
	dashboards.PaperIsolator
	mu    sync.Mutex
	lines []capture.LedgerLine
}

func (g *growing) Search(context.Context, string) (capture.FaultSearch, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	f := dashboards.PaperSearch()
	f.Ledger = append(f.Ledger, g.lines...)
	return f, nil
}

func (g *growing) lift(part string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.lines = append(g.lines, capture.LedgerLine{Part: part, Rail: "+5 V logic", Word: "acquitted", Say: "Acquitted.", BeforeText: "0.84 Ω", AfterText: "0.85 Ω"})
}

// What a probe reads comes to the page by itself; what was refused, and what
// somebody types meanwhile, stays.
func TestIsolateFollowsTheProbe(t *testing.T) {
	ctx := browser(t)
	g := new(growing)
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Isolate = g })
	do(t, ctx, chromedp.Navigate(srv.URL+"/isolate?token="+token), chromedp.WaitReady(chromedp.CSS("[name=entry]")))
	get(t, ctx, chromedp.Evaluate[bool](`(() => { const f = document.querySelector('input[name=entry][required]'); f.value = 'lift X'; f.form.querySelector('button').click(); return true; })()`))
	until(t, ctx, "the refusal", alive+` && document.body.innerText.includes('That was not filed')`)
	get(t, ctx, chromedp.Evaluate[bool](`(() => { window.same = true; document.querySelector('input[name=entry][required]').value = 'alone C'; return true; })()`))
	g.lift("C777")
	until(t, ctx, "the lift", `document.querySelector('#part-found').innerText.includes('C777')`)
	for _, script := range []string{`window.same === true`, `document.body.innerText.includes('That was not filed')`, `document.querySelector('input[name=entry][required]').value === 'alone C'`, `document.querySelector('#part-say').innerText.includes('PS2 is convicted')`} {
		if !get(t, ctx, chromedp.Evaluate[bool](script)) {
			t.Errorf("not so: %s", script)
		}
	}
}
