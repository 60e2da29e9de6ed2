package dashboards_test

import (
	"context"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"

	"steadyrail/dashboards"
)

// pressed is a walker that a browser presses: its answers come from another
// goroutine.
type pressed struct {
	mu sync.Mutex
	walker
}

func (p *pressed) Walk(ctx context.Context, job string, after uint64) (dashboards.WalkView, error) {
	if after != 0 { // nothing is new
		<-ctx.Done()
		return dashboards.WalkView{}, ctx.Err()
	}
	return p.view, nil
}

func (p *pressed) DoWalk(ctx context.Context, job string, a dashboards.WalkAct) (dashboards.Result, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.walker.DoWalk(ctx, job, a)
}

func (p *pressed) keys() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	var list []string
	for _, a := range p.did {
		list = append(list, a.Do)
	}
	return strings.Join(list, " ")
}

// The page is one big key on a phone: any key is the pedal, Backspace goes back
// one, Tab and function keys stay the browser's; each sound has its notes, no script fails, and nothing
// sticks out of the screen.
func TestWalkKeysInABrowser(t *testing.T) {
	ctx := browser(t)
	p := &pressed{walker: *walkOnFive()}
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Walk = p })
	do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(srv.URL+"/walk?token="+token), chromedp.WaitReady(chromedp.CSS(".walk")))
	until(t, ctx, "the page", alive+" && !!document.querySelector('[data-press]')")
	const key = `(k) => { for (const e of ['keydown', 'keyup']) document.body.dispatchEvent(new KeyboardEvent(e, {key: k, bubbles: true, cancelable: true})); }`
	get(t, ctx, chromedp.Evaluate[bool](`(() => { window.wrong = []; addEventListener('error', (e) => wrong.push(e.message)); addEventListener('unhandledrejection', (e) => wrong.push(String(e.reason))); return true; })()`))
	for i, k := range []string{"a", "Tab", "Backspace", "F5", " "} {
		get(t, ctx, chromedp.Evaluate[bool](`((`+key+`)(`+"'"+k+"'"+`), true)`))
		want := []string{"press", "press", "press again", "press again", "press again press"}[i]
		until(t, ctx, "the press of "+k, `true`)
		for range 200 {
			if p.keys() == want {
				break
			}
			get(t, ctx, chromedp.Evaluate[bool](`document.hasFocus() || true`))
		}
		if p.keys() != want {
			t.Errorf("after %q: %q, want %q", k, p.keys(), want)
		}
	}
	until(t, ctx, "the sounds", `(() => { window.tones ??= import('/assets/walk.js').then((w) => { window.heard = ['filed', 'odd', 'lift', 'done'].map((s) => w.notes(s).length); }); return !!window.heard; })()`)
	if heard := get(t, ctx, chromedp.Evaluate[[]int]("heard")); !slices.Equal(heard, []int{1, 2, 1, 3}) {
		t.Errorf("notes %v", heard)
	}
	if wrong := get(t, ctx, chromedp.Evaluate[string]("wrong.join('; ')")); wrong != "" {
		t.Errorf("errors in the page: %s", wrong)
	}
	if over := get(t, ctx, chromedp.Evaluate[int]("document.documentElement.scrollWidth - innerWidth")); over > 0 {
		t.Errorf("%d px stick out of a phone", over)
	}
}
