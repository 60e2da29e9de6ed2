package dashboards_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// until waits until a script in the page says true.
func until(t *testing.T, ctx context.Context, what, script string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 45*time.Second)
	defer cancel()
	for {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script))
		if err == nil && ok {
			return
		}
		if ctx.Err() != nil {
			page, _ := chromedp.Run(context.WithoutCancel(ctx), chromedp.Evaluate[string]("document.title + ' | ' + document.body.innerText.slice(0, 1200)"))
			t.Fatalf("%s: never (%v)\n%s", what, err, page)
		}
		time.Sleep(30 * time.Millisecond) // another process: there is nothing else to wait for
	}
}

// did waits until the bench was asked to do n things.
func did(t *testing.T, b *fakeBench, n int) {
	t.Helper()
	for deadline := time.Now().Add(45 * time.Second); len(b.acts()) < n && time.Now().Before(deadline); {
		time.Sleep(20 * time.Millisecond) // another process: there is nothing else to wait for
	}
}

// alive is true once the page's scripts are in force.
const alive = "document.documentElement.classList.contains('alive')"

func TestPageIsAliveInABrowser(t *testing.T) {
	ctx := browser(t)
	b := newFake(night())
	srv := serve(t, b)
	do(t, ctx, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")))

	if where := get(t, ctx, chromedp.Location()); where != srv.URL+"/" {
		t.Errorf("the token stays in the address: %s", where)
	}
	until(t, ctx, "first page", alive+" && document.title.startsWith('All four rails inside')")
	if broken := get(t, ctx, chromedp.Evaluate[int]("getComputedStyle(document.querySelector('.lanes')).display === 'grid' ? 0 : 1")); broken != 0 {
		t.Error("the style sheet is not in force")
	}

	// A new reading arrives without a reload.
	do(t, ctx, chromedp.Func(func(context.Context, *chromedp.Target) error {
		b.change(func(s *live.Snapshot) {
			s.Jobs[0].Rails[0] = railView(s.Jobs[0].Rails[0].Rail, "dmm/volts", 5.034, .001, .005, s.Now)
		})
		return nil
	}))
	until(t, ctx, "the new reading", `document.querySelector('.value').getAttribute('aria-label') === '5.034 volts'`)

	// An alarm fills the page; its button, by the space bar, says heard.
	b.change(func(s *live.Snapshot) { *s = trouble() })
	until(t, ctx, "the alarm", "document.title.startsWith('ALARM +5 V logic collapsed') && document.querySelector('#ring').dataset.ring === 'urgent'")
	do(t, ctx, chromedp.KeyEvent(" "))
	until(t, ctx, "the answer", "document.querySelector('#said').textContent === 'Done.'")
	if got := b.acts(); len(got) != 1 || got[0] != "heard "+collapse().Alarm+"   0" {
		t.Errorf("did %q", got)
	}
	b.change(func(s *live.Snapshot) { s.Jobs[0].Alarms[0].To = capture.Heard })
	until(t, ctx, "calm again", "!document.querySelector('.shout') && !document.body.classList.contains('alarm')")

	// Keys change the screen.
	do(t, ctx, chromedp.KeyEvent("3"))
	until(t, ctx, "alarms by key 3", alive+" && document.body.dataset.page === 'alarms'")
	do(t, ctx, chromedp.KeyEvent("n"))
	until(t, ctx, "note by key n", "document.activeElement.id === 'note'")
	do(t, ctx, chromedp.KeyEvent("3 s"))
	until(t, ctx, "keys do nothing while typing", "document.getElementById('note').value === '3 s' && document.body.dataset.page === 'job'")

	// What is typed survives the stream.
	b.change(func(s *live.Snapshot) { *s = trouble() })
	until(t, ctx, "the alarm on the job page", "!!document.querySelector('.shout')")
	if v := get(t, ctx, chromedp.Evaluate[string]("document.getElementById('note').value")); v != "3 s" {
		t.Errorf("the note became %q", v)
	}
}

func TestSoundIsOffUntilAKey(t *testing.T) {
	ctx := browser(t)
	srv := serve(t, newFake(trouble()))
	do(t, ctx, chromedp.Navigate(srv.URL+"/"), chromedp.WaitReady(chromedp.CSS("main")))
	until(t, ctx, "silence first", alive+` && document.querySelector('[data-act="sound"]').textContent === 'Sound off'`)
	do(t, ctx, chromedp.KeyEvent("s"))
	until(t, ctx, "sound by key", `document.querySelector('[data-act="sound"]').getAttribute('aria-pressed') === 'true'`)
	notes := get(t, ctx, chromedp.Evaluate[string](`import('/assets/sound.js').then((m) => ['urgent', 'back', ''].map((r) => { const p = m.plan(r); return p.every + ':' + p.notes.map((n) => n.hz).join('>'); }).join(' '))`, chromedp.EvalAwaitPromise))
	if notes != "2:880>660 30:880 0:" {
		t.Errorf("plan: %s", notes)
	}
}

func TestLostConnectionIsSaid(t *testing.T) {
	ctx := browser(t)
	srv := serve(t, newFake(night()))
	do(t, ctx, chromedp.Navigate(srv.URL+"/"), chromedp.WaitReady(chromedp.CSS("main")))
	until(t, ctx, "first page", alive+" && document.title.startsWith('All four rails inside')")
	// The listener first: the page opens its stream again at once, and would
	// find it still there.
	srv.Listener.Close()
	srv.CloseClientConnections()
	until(t, ctx, "the warning", "!document.getElementById('lost').hidden && document.body.classList.contains('stale')")
}

func TestPageWithoutScripts(t *testing.T) {
	ctx := browser(t)
	b := newFake(trouble())
	srv := serve(t, b)
	off := chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		_, err := cdp.Call(ctx, tg, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
	do(t, ctx, off, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")), chromedp.WaitNotVisible(chromedp.CSS(`[data-act="room"]`)),
		chromedp.Click(chromedp.CSS(".shout button.main")))
	did(t, b, 1)
	if got := b.acts(); len(got) != 1 || got[0] != "heard "+collapse().Alarm+"   0" {
		t.Errorf("did %q", got)
	}
	if where := get(t, ctx, chromedp.Location()); where != srv.URL+"/" {
		t.Errorf("sent to %s", where)
	}
	do(t, ctx, chromedp.Navigate(srv.URL+"/job"), chromedp.SendKeys(chromedp.CSS("#note"), "tap test"), chromedp.Click(chromedp.CSS(".forms button.main")))
	did(t, b, 2)
	if got := b.acts(); len(got) != 2 || got[1] != "note   tap test 0" {
		t.Errorf("did %q", got)
	}
}

func TestOutputOffAsksFirst(t *testing.T) {
	ctx := browser(t)
	b := newFake(trouble())
	srv := serve(t, b)
	do(t, ctx, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")))
	until(t, ctx, "the page", alive)
	do(t, ctx, chromedp.KeyEvent("o"))
	until(t, ctx, "the question", "document.querySelector('.ask').open && document.activeElement.textContent === 'Switch supply off'")
	b.change(func(s *live.Snapshot) { s.Now = s.Now.Add(time.Second) })
	until(t, ctx, "a change", "document.querySelector('.clock b').textContent === '00:51:09'")
	if got := b.acts(); len(got) != 0 {
		t.Fatalf("the key alone did %q", got)
	}
	until(t, ctx, "the question stays open", "document.querySelector('.ask').open && document.activeElement.textContent === 'Switch supply off'")
	do(t, ctx, chromedp.KeyEvent(" "))
	did(t, b, 1)
	if got := b.acts(); len(got) != 1 || got[0] != "output supply  off 0" {
		t.Errorf("did %q", got)
	}
}
