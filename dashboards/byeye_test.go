package dashboards_test

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// A figure that could be two is asked back, with both as buttons and everything
// else that was typed kept; nothing is entered meanwhile.
func TestAmbiguousFigureIsAskedBack(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	cookie, nonce := session(t, srv)
	form := url.Values{"nonce": {nonce}, "back": {"/job"}, "job": {"AB-0147"}, "rail": {"+5 V logic"}, "text": {"1,234 V"}, "meter": {"pocket"}}
	send := func(f url.Values) (int, string) {
		resp, body := call(t, srv, req{method: "POST", path: "/entries", body: f.Encode(), head: map[string]string{
			"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html", "Origin": srv.URL,
		}})
		return resp.StatusCode, body
	}
	code, page := send(form)
	if code != 400 || len(b.acts()) != 0 {
		t.Fatalf("%d, did %q", code, b.acts())
	}
	for _, want := range []string{"Which is meant?", `name="text" value="1.234 V"`, `name="text" value="1234 V"`, `name="meter" value="pocket"`, `name="back" value="/job"`, "Nothing was entered"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %s in\n%s", want, page)
		}
	}
	form.Set("text", "1.234 V")
	if code, _ = send(form); code != 303 && code != 200 || !slices.Equal(b.acts(), []string{"enter 1.234 V on +5 V logic from pocket"}) {
		t.Errorf("%d, did %q", code, b.acts())
	}
}

// E, the rail's number, Tab, digits, Enter: a value without the mouse. The
// question is answered with Enter too, and a wrong rail is corrected.
func TestValueReadByEyeByKeys(t *testing.T) {
	ctx := browser(t)
	b := newFake(night())
	srv := serve(t, b)
	do(t, ctx, chromedp.Navigate(srv.URL+"/?token="+token), chromedp.WaitReady(chromedp.CSS("main")))
	until(t, ctx, "first page", alive)
	do(t, ctx, chromedp.KeyEvent("e"))
	until(t, ctx, "the entry by key e", alive+" && document.activeElement.id === 'entry' && document.getElementById('by-eye').open")
	do(t, ctx, chromedp.KeyEvent("2"), chromedp.KeyEvent("\t"), chromedp.KeyEvent("1,234"), chromedp.KeyEvent("\r"))
	until(t, ctx, "the question", "document.title.startsWith('Which is meant?')")
	if len(b.acts()) != 0 {
		t.Errorf("guessed: %q", b.acts())
	}
	do(t, ctx, chromedp.Click(chromedp.CSS(`button[value="1.234"]`)))
	did(t, b, 1)
	if got := b.acts(); len(got) != 1 || got[0] != "enter 1.234 on +12 V audio" {
		t.Fatalf("did %q", got)
	}
	until(t, ctx, "back on the job", alive+" && document.body.dataset.page === 'job'")
	get(t, ctx, chromedp.Evaluate[bool](`(() => {
		const from = document.querySelector('[name="instead_of"]');
		from.closest('details').open = true;
		from.value = '+12 V audio';
		from.form.querySelector('button').click();
		return true;
	})()`))
	did(t, b, 2)
	if got := b.acts(); len(got) != 2 || got[1] != "correct +12 V audio to +5 V logic: " {
		t.Errorf("did %q", got)
	}
}

// An unlikely value is asked back with a button for each thing that may be
// meant; only the one that says it is so carries that.
func TestUnlikelyValueIsAskedBack(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	cookie, nonce := session(t, srv)
	form := url.Values{"nonce": {nonce}, "back": {"/job"}, "job": {"AB-0147"}, "rail": {"+5 V logic"}, "text": {"12.07"}, "meter": {"pocket"}}
	send := func() (int, string) {
		resp, body := call(t, srv, req{method: "POST", path: "/entries", body: form.Encode(), head: map[string]string{
			"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html", "Origin": srv.URL,
		}})
		return resp.StatusCode, body
	}
	code, page := send()
	if code != 400 || len(b.acts()) != 0 {
		t.Fatalf("%d, did %q", code, b.acts())
	}
	for _, want := range []string{"Which is meant?", "Is it &#43;12 V audio (2)? Nothing was entered.", `name="rail" value="&#43;12 V audio"`, `name="rail" value="&#43;5 V logic"`, `name="meter" value="pocket"`, `name="back" value="/job"`, ">on &#43;12 V audio</button>", ">it is so</button>"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %s in\n%s", want, page)
		}
	}
	if n := strings.Count(page, `name="sure"`); n != 1 || strings.Count(page, "<form") != 2 {
		t.Errorf("%d say that it is so in\n%s", n, page)
	}
	form.Set("sure", "yes")
	if code, _ = send(); code != 303 && code != 200 || !slices.Equal(b.acts(), []string{"enter 12.07 on +5 V logic from pocket"}) {
		t.Errorf("%d, did %q", code, b.acts())
	}
}
