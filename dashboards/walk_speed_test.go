package dashboards_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

// moving is a walk that goes on while a page waits for news.
type moving struct {
	mu      sync.Mutex
	view    dashboards.WalkView
	changed chan struct{}
}

func newMoving(v dashboards.WalkView) *moving {
	return &moving{view: v, changed: make(chan struct{})}
}

func (m *moving) seen() (dashboards.WalkView, <-chan struct{}) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.view, m.changed
}

func (m *moving) Walk(ctx context.Context, _ string, after uint64) (dashboards.WalkView, error) {
	for {
		v, changed := m.seen()
		if after == 0 || v.Seq > after {
			return v, nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return v, ctx.Err()
		}
	}
}

func (m *moving) DoWalk(_ context.Context, job string, _ dashboards.WalkAct) (dashboards.Result, error) {
	return dashboards.Result{Job: job, Say: "The walk goes on."}, nil
}

// files goes on to the next rail, as a walk does once a figure is filed.
func (m *moving) files(rail, last string) time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	v := &m.view
	v.Seq, v.Rail, v.Last, v.Word = v.Seq+1, rail, last, "got it"
	v.Voice = walk.Voice{Sounds: v.Voice.Sounds + 1, Sound: "filed", Says: v.Voice.Says + 1, Say: walk.Spoken(last + ". " + rail)}
	close(m.changed)
	m.changed = make(chan struct{})
	return time.Now()
}

// listening notes when the page shows another rail, and what it has the voice say.
const listening = `(() => {
	window.heard = []; window.shown = 0; window.tongue = [];
	speechSynthesis.speak = (u) => { heard.push({ at: performance.timeOrigin + performance.now(), text: u.text }); tongue.push(u.lang); };
	new MutationObserver(() => { shown ||= performance.timeOrigin + performance.now(); }).observe(document.querySelector('[data-walk="rail"]'), { childList: true, characterData: true, subtree: true });
	return true; })()`

// From a figure that is filed to the next rail shown and said, in a browser: how
// long is printed, not judged. What is said is English with points, also where
// the page has commas, and it says so to the voice.
func TestWalkIsShownAndSaidSoon(t *testing.T) {
	ctx := browser(t)
	v := walkOnFive().view
	v.Rows = append(v.Rows, walk.Row{Rail: "+3.3 V DSP"})
	m := newMoving(v)
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Walk, o.Decimal = m, capture.Comma })
	do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(srv.URL+"/walk?token="+token), chromedp.WaitReady(chromedp.CSS(".walk")))
	until(t, ctx, "the page", alive+" && !!document.querySelector('[data-press]')")
	get(t, ctx, chromedp.Evaluate[bool](listening))
	do(t, ctx, chromedp.KeyEvent("a")) // no browser speaks before a key
	until(t, ctx, "the key", `!!navigator.userActivation.hasBeenActive`)
	for i, rail := range []string{"+12 V audio", "+3.3 V DSP", "+5 V logic"} {
		get(t, ctx, chromedp.Evaluate[bool]("(shown = 0, true)"))
		at := m.files(rail, "+3.3 V DSP 0.845 Ω")
		until(t, ctx, "the next rail", `heard.length === `+string(rune('1'+i))+` && document.querySelector('[data-walk="rail"]').textContent === '`+rail+`'`)
		since := func(script string) float64 {
			return get(t, ctx, chromedp.Evaluate[float64](script)) - float64(at.UnixMicro())/1000
		}
		t.Logf("%s: shown after %.0f ms, said after %.0f ms", rail, since("shown"), since("heard.at(-1).at"))
	}
	if said := get(t, ctx, chromedp.Evaluate[string]("heard.at(-1).text")); said != "plus 3.3 volts DSP 0.845 ohm. plus 5 volts logic" {
		t.Errorf("said %q", said)
	}
	if lang := get(t, ctx, chromedp.Evaluate[string]("tongue.join()")); lang != strings.Repeat("en,", 2)+"en" {
		t.Errorf("in %q", lang)
	}
	if last := get(t, ctx, chromedp.Evaluate[string](`document.querySelector('[data-walk="last"]').textContent`)); last != "+3.3 V DSP 0,845 Ω" {
		t.Errorf("the page says %q", last)
	}
}

// On a phone what is to be hit is large: the rail and its word are the key, tapped
// anywhere, and the button is no smaller than a thumb.
func TestWalkIsOneKeyOnAPhone(t *testing.T) {
	ctx := browser(t)
	p := &pressed{walker: *walkOnFive()}
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Walk = p })
	do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(srv.URL+"/walk?token="+token), chromedp.WaitReady(chromedp.CSS(".walk")))
	until(t, ctx, "the page", alive+" && !!document.querySelector('[data-press]')")
	if share := get(t, ctx, chromedp.Evaluate[float64](`(() => { const r = document.querySelector('.walk').getBoundingClientRect(); return r.width * Math.min(r.height, innerHeight - r.top) / (innerWidth * innerHeight); })()`)); share < 0.5 {
		t.Errorf("the key is %.0f %% of the screen", 100*share)
	}
	if high := get(t, ctx, chromedp.Evaluate[float64](`document.querySelector('[data-press="press"]').getBoundingClientRect().height`)); high < 60 {
		t.Errorf("the button is %.0f px high", high)
	}
	const tap = `(([x, y]) => { const on = document.elementFromPoint(x, y); for (const e of ['pointerdown', 'pointerup']) on.dispatchEvent(new PointerEvent(e, {bubbles: true})); return on.className; })`
	for _, at := range []string{"[40, 250]", "[200, 300]", "[350, 280]"} {
		on := get(t, ctx, chromedp.Evaluate[string](tap+"("+at+")"))
		t.Logf("tapped at %s on %q", at, on)
	}
	for deadline := time.Now().Add(45 * time.Second); p.keys() != "press press press" && time.Now().Before(deadline); {
		time.Sleep(20 * time.Millisecond) // another process: there is nothing else to wait for
	}
	if p.keys() != "press press press" {
		t.Errorf("after three taps: %q", p.keys())
	}
}
