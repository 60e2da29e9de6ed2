package dashboards_test

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"steadyrail/capture/live"
)

// A meter that nobody knows asks for a touch: one key begins it for the rail
// that was chosen, the page says what to do and how it ended, and the line goes.
func TestTapFromThePage(t *testing.T) {
	ctx := browser(t)
	b := newFake(waits())
	srv := serve(t, b)
	do(t, ctx, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")))
	until(t, ctx, "the line", alive+` && document.querySelector('.asks').innerText.includes('Nobody can say which meter answers as handheld') && document.querySelectorAll('.asked').length === 2`)
	get(t, ctx, chromedp.Evaluate[bool](`document.querySelector('.asked select').value = '+3.3 V DSP'; true`))
	b.change(func(s *live.Snapshot) { s.Speed = 2 }) // newer HTML leaves the choice alone
	until(t, ctx, "newer HTML", `document.querySelector('.tag').innerText.includes('2 ×')`)
	do(t, ctx, chromedp.KeyEvent("t"))
	until(t, ctx, "the answer", "document.querySelector('#said').textContent === 'Done.'")
	if got := b.acts(); len(got) != 1 || got[0] != "tap handheld  +3.3 V DSP 0" {
		t.Errorf("did %q", got)
	}
	at := len(night().Instruments)
	b.change(func(s *live.Snapshot) {
		s.Instruments[at].Tapping, s.Instruments[at].Problem = true, "touch +3.3 V DSP with handheld now; lift it first if it is there"
	})
	until(t, ctx, "what to do", `document.querySelector('.asked').innerText.includes('Touch +3.3') && !document.querySelector('.asked').querySelector('form')`)
	b.change(func(s *live.Snapshot) {
		s.Instruments[at] = live.InstrumentView{Up: true, Info: s.Instruments[at].Info}
	})
	until(t, ctx, "it is known", `document.querySelectorAll('.asked').length === 1 && document.querySelector('.asked').innerText.includes('dmm2 may switch itself off in about 3')`)
	do(t, ctx, chromedp.Click(chromedp.CSS(".asked button")))
	did(t, b, 2)
	if got := b.acts(); len(got) != 2 || got[1] != "heard auto-off +12 V audio   0" {
		t.Errorf("did %q", got)
	}
}

// The same without a script, and each output of a supply by its own name: the
// only button about all of them switches off.
func TestTapAndOutputsWithoutScripts(t *testing.T) {
	ctx := browser(t)
	b := newFake(waits())
	srv := serve(t, b)
	off := chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		_, err := cdp.Call(ctx, tg, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
	do(t, ctx, off, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")), chromedp.Click(chromedp.CSS(".asked button")))
	did(t, b, 1)
	if got := b.acts(); len(got) != 1 || got[0] != "tap handheld  +5 V logic 0" {
		t.Errorf("did %q", got)
	}
	buttons := get(t, ctx, chromedp.Location())
	if buttons != srv.URL+"/" {
		t.Errorf("sent to %s", buttons)
	}
	do(t, ctx, chromedp.Navigate(srv.URL+"/job"), chromedp.WaitReady(chromedp.CSS("main")))
	names := get(t, ctx, chromedp.Evaluate[string](`[...document.querySelectorAll('.outlet button')].map((b) => b.textContent).join(', ')`))
	want := "Switch supply off, Switch supply on, after a question, Switch all of psu off, Switch psu output 1 off, Switch psu output 1 on, after a question, Switch psu output 2 off, Switch psu output 2 on, after a question"
	if names != want {
		t.Errorf("buttons: %s", names)
	}
}
