package story_test

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"steadyrail/cmd/internal/story"
)

// TestScreensDuringTheStory looks at the real screens in a real browser while
// the story is told: the page must change by itself when +5 V collapses, and the
// report must open. With STEADYRAIL_SCREENS=DIR it leaves pictures there, which
// is how those in the README are made.
func TestScreensDuringTheStory(t *testing.T) {
	if testing.Short() {
		t.Skip("tells the whole story")
	}
	tab := browser(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	looked := make(chan struct{})
	look := sync.OnceFunc(func() { close(looked) })
	defer look()
	hold := func(ctx context.Context) { // on a busy computer the browser is late
		select {
		case <-looked:
		case <-ctx.Done():
		}
	}
	b, err := story.Open(ctx, story.Options{Workspace: t.TempDir(), Listen: "127.0.0.1:0", Seed: 88, Version: "test", Alarmed: hold})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Start(ctx); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := b.Stop(context.Background()); err != nil {
			t.Error(err)
		}
	}()
	const given = 40 * time.Second
	out := &script{}
	told, begun := make(chan error, 1), time.Now()
	go func() {
		_, err := b.Tell(ctx, out, given, time.Now())
		told <- err
	}()
	base := "http://" + b.App.Address()
	shot := shooter(t, tab)
	size(t, tab, 1440, 900, "light")
	do(t, tab, chromedp.Navigate(base+"/?token="+b.App.Token()), chromedp.WaitVisible(chromedp.CSS(".lanes, .first")))
	until(t, tab, "the collapse", `!!document.querySelector(".shout")?.textContent.includes("collapsed")`)
	shot("bench-alarm")
	look()
	if err := <-told; err != nil {
		t.Fatal(err)
	}
	minutesRise(t, out.String(), time.Since(begun) < given+given/4)
	if title := get(t, tab, chromedp.Title()); title == "" {
		t.Error("the page has no title")
	}
	do(t, tab, chromedp.Navigate(base+"/"), chromedp.WaitVisible(chromedp.CSS(".lanes")))
	shot("bench")
	do(t, tab, chromedp.Navigate(base+"/rail/"+url.PathEscape("+5 V logic")+"?span=all"), chromedp.WaitVisible(chromedp.CSS(".chart")))
	shot("rail")
	do(t, tab, chromedp.Navigate(base+"/report"), chromedp.WaitVisible(chromedp.CSS("h1")))
	shot("report")
}

// browser opens a headless browser, or skips the test loudly.
func browser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal("chromium is missing: install the package chromium")
		}
		t.Skip("SKIPPED: chromium is missing; install the package chromium to see the screens in a browser")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	tab, closeTab := chromedp.NewContext(alloc)
	do(t, tab) // opens it; a time limit on the first context would close it
	ctx, late := context.WithTimeout(tab, 4*time.Minute)
	t.Cleanup(func() { late(); closeTab(); stop() })
	return ctx
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func get[T any](t *testing.T, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// until waits until a script in the page says true. The page may go elsewhere
// meanwhile, as it does when the first job is opened: it is asked again then.
func until(t *testing.T, ctx context.Context, what, script string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 3*time.Minute)
	defer cancel()
	for {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script))
		if err == nil && ok {
			return
		}
		if ctx.Err() != nil {
			t.Fatalf("%s: never (%v); the page says: %.300s", what, err, page(ctx))
		}
		time.Sleep(30 * time.Millisecond) // another process: there is nothing else to wait for
	}
}

// page is where the browser is and what stands there, for whom a test fails.
func page(ctx context.Context) string {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.pathname + ": " + document.body.innerText`))
	if err != nil {
		return err.Error()
	}
	return text
}

// size fixes the window and the light of the room.
func size(t *testing.T, ctx context.Context, w, h int64, theme string) {
	t.Helper()
	do(t, ctx, chromedp.EmulateViewport(w, h), chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		_, err := cdp.Call(ctx, tg, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
		return err
	}))
}

// shooter returns a function that leaves a picture, when pictures are wanted.
func shooter(t *testing.T, ctx context.Context) func(string) {
	dir := os.Getenv("STEADYRAIL_SCREENS")
	return func(name string) {
		t.Helper()
		png := get(t, ctx, chromedp.CaptureScreenshot())
		if len(png) == 0 {
			t.Errorf("no picture of %s", name)
		}
		if dir == "" {
			return
		}
		if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
			t.Error(err)
		}
	}
}
