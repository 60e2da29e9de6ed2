package dashboards_test

import (
	"context"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// chromium starts one headless browser for all tests; stopChromium ends it.
var (
	stopChromium = func() {}
	chromium     = sync.OnceValues(func() (context.Context, error) {
		path, err := exec.LookPath("chromium")
		if err != nil {
			return nil, err
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
			chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
		alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, cancel := chromedp.NewContext(alloc)
		stopChromium = func() { cancel(); stop() }
		return ctx, chromedp.Do(ctx)
	})
)

// browser opens a tab of its own with fresh cookies.
func browser(t *testing.T) context.Context {
	t.Helper()
	if _, err := exec.LookPath("chromium"); err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal("chromium is missing: install the package chromium")
		}
		t.Skip("SKIPPED: chromium is missing; install the package chromium to check the pages in a browser")
	}
	parent, err := chromium()
	if err != nil {
		t.Fatal(err)
	}
	tab, closeTab := chromedp.NewContext(parent, chromedp.WithNewBrowserContext())
	do(t, tab) // opens it; a time limit on the first context would close it
	ctx, late := context.WithTimeout(tab, 90*time.Second)
	t.Cleanup(func() { late(); closeTab() })
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

// prefers fixes what the room is like.
func prefers(theme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		_, err := cdp.Call(ctx, tg, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
		return err
	})
}

// opened opens the questions and forms of a page, which are shut at first.
var opened = chromedp.Evaluate[bool](`document.querySelectorAll(".shout .ask").forEach((d) => { d.open = true; });
		if (location.search.includes("open")) { document.querySelectorAll(".forms details").forEach((d) => { d.open = true; }); document.querySelector(".outlet").scrollIntoView(); }
		true`)

// TestShots writes a picture of every screen into the folder that
// STEADYRAIL_SHOTS names, to be looked at. It fails when a page is wider than
// its window.
func TestShots(t *testing.T) {
	if testing.Short() {
		t.Skip("every page at every size is for the long run")
	}
	dir := os.Getenv("STEADYRAIL_SHOTS")
	benches := map[string]live.Snapshot{"night": night(), "trouble": trouble(), "eight": eight(), "two": two(), "waits": waits(), "waits-alarm": waitsAlarm(), "empty": benchAlone()}
	pages := map[string][]string{"night": {"/", "/rail/+5%20V%20logic", "/job", "/rail/+5%20V%20logic?span=1h", "/trim?rail=%2B5%20V%20logic", "/soak", "/isolate", "/walk", "/standin?source=325+V&power=18+W&ohms=120+ohm"}, "trouble": {"/", "/rail/+3.3%20V%20DSP", "/rail/%E2%88%9212%20V%20audio", "/alarms"}, "eight": {"/", "/job"}, "two": {"/", "/?job=AB-0139"}, "waits": {"/", "/job?open", "/discharge?ohms=2.2k&farads=220u&volts=325&level=work&watts=5"}, "waits-alarm": {"/"}, "empty": {"/", "/job", "/walk"}}
	if dir != "" {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	ctx := browser(t)
	for name, snap := range benches {
		if only := os.Getenv("STEADYRAIL_SHOTS_BENCH"); only != "" && !strings.HasPrefix(name, only) {
			continue
		}
		srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: newFake(snap), Token: token, Zone: time.UTC, Trim: lowTrimming, Soak: &cycling{}, Walk: walkOnFive(), Cold: falling{}, Isolate: dashboards.PaperIsolator{}}))
		for i, page := range pages[name] {
			for _, size := range []struct {
				name string
				w, h int64
			}{{"desk", 1440, 900}, {"phone", 390, 844}} {
				for _, theme := range []string{"light", "dark"} {
					if dir == "" && theme == "dark" {
						continue
					}
					shape := chromedp.EmulateViewport(size.w, size.h)
					if size.name == "phone" {
						shape = chromedp.EmulateViewport(size.w, size.h, chromedp.EmulateMobile)
					}
					do(t, ctx, shape, prefers(theme),
						chromedp.Navigate(srv.URL+page+map[bool]string{false: "?", true: "&"}[strings.Contains(page, "?")]+"token="+token), chromedp.WaitReady(chromedp.CSS("main")))
					get(t, ctx, opened)
					wide, inner := get(t, ctx, chromedp.Evaluate[int]("document.documentElement.scrollWidth")), get(t, ctx, chromedp.Evaluate[int]("innerWidth"))
					png := get(t, ctx, chromedp.CaptureScreenshot())
					if wide > inner || int64(inner) != size.w {
						t.Errorf("%s%s on a %s is %d px wide in a window of %d px (device %d)", name, page, size.name, wide, inner, size.w)
					}
					if dir != "" {
						file := filepath.Join(dir, name+"-"+string(rune('1'+i))+"-"+size.name+"-"+theme+".png")
						if err := os.WriteFile(file, png, 0o644); err != nil {
							t.Fatal(err)
						}
					}
				}
			}
		}
		srv.CloseClientConnections()
		srv.Close()
	}
}
