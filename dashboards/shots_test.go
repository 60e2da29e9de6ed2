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
	"steadyrail/dashboards/web"
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
	limit := 90 * time.Second
	if os.Getenv("STEADYRAIL_SHOTS") != "" { // every page is looked at whole
		limit *= 6
	}
	ctx, late := context.WithTimeout(tab, limit)
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

// posted asks on the page of stand-ins, as a person does.
var posted = chromedp.Evaluate[bool](`(() => { const text = document.querySelector('textarea[name="text"]'); text.value = "rail: +5 V logic"; text.form.requestSubmit(); return true; })()`)

// judgedAtLength answers with as much as a judgement has.
func judgedAtLength(context.Context, dashboards.StandInAsk) (dashboards.StandInsJudged, error) {
	checks := []web.StandInCheck{
		{Name: "isolation", Word: "fits", Say: "Both returns are one node on this board, and the candidate is not isolated.", Source: []string{"stated by the sheet"}},
		{Name: "junction temperature", Word: "cannot tell", Value: 96, Limit: 105, Unit: "degC", Say: "96 °C at 1.1 A in 45 °C, with 18 °C of doubt: the limit of 105 °C lies within it.", Source: []string{"measured in AB-0147", "data sheet, table 3"}},
		{Name: "output ripple, an oscilloscope's capture", Word: "does not fit", Value: 0.062, Limit: 0.05, Unit: "V", Say: "62 mV from peak to peak where 50 mV are allowed.", Source: []string{"start.csv, CH1"}},
		{Name: "loop stability", Word: "not checked", Say: "Not checked: no capture of a load step is attached."},
	}
	return dashboards.StandInsJudged{
		Taken: []web.StandInTaken{{Key: "load", Value: 1.1, U: 0.02, Source: "measured in AB-0147", Say: "1.1 A, measured in the job"}}, Kept: []string{"Stand-in judged: board A."},
		Judgements: []web.StandIn{{Candidate: "board A", Rail: "+5 V logic", Word: "cannot tell", Say: "Board A may stand in, but for what nobody can tell yet.", Checks: checks},
			{Candidate: "three-terminal regulator of long lineage", Rail: "+5 V logic", Word: "does not fit", Say: "It would be too hot.", Checks: checks[1:3]}},
	}, nil
}

// agedOn says on the bench that waits that its cold checks are too old.
func agedOn(bench string) func(string) (string, string) {
	if bench != "waits" {
		return nil
	}
	return func(string) (string, string) {
		return "the cold check is older than work on the board: +5 V logic passed last at 10:42, then C14 was put back at 10:51", "with no power, read +5 V logic in ohms again, until it says no short: steadyrail place dmm/ohms \"+5 V logic\""
	}
}

// TestShots writes a picture of every screen into the folder that
// STEADYRAIL_SHOTS names, to be looked at. It fails when a page is wider than
// its window.
func TestShots(t *testing.T) {
	if testing.Short() {
		t.Skip("every page at every size is for the long run")
	}
	dir := os.Getenv("STEADYRAIL_SHOTS")
	benches := map[string]live.Snapshot{"night": night(), "trouble": trouble(), "eight": eight(), "two": two(), "waits": waits(), "waits-alarm": waitsAlarm(), "kept": kept().Snapshot(), "empty": benchAlone()}
	pages := map[string][]string{"night": {"/", "/rail/+5%20V%20logic", "/job", "/rail/+5%20V%20logic?span=1h", "/trim?rail=%2B5%20V%20logic", "/soak", "/isolate", "/walk", "/standin?source=325+V&power=18+W&ohms=120+ohm"}, "trouble": {"/", "/rail/+3.3%20V%20DSP", "/rail/%E2%88%9212%20V%20audio", "/alarms", "/health"}, "eight": {"/", "/job", "/rules"}, "two": {"/", "/?job=AB-0139"}, "waits": {"/", "/job?open", "/discharge?ohms=2.2k&farads=220u&volts=325&level=work&watts=5", "/demo"}, "waits-alarm": {"/"}, "empty": {"/", "/job", "/walk", "/reports"}}
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
		srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: newFake(snap), Token: token, Zone: time.UTC, Trim: lowTrimming, Soak: &cycling{}, Walk: walkOnFive(), Cold: falling{}, Health: dashboards.PaperExaminer{}, Isolate: dashboards.PaperIsolator{}, Entries: keeping{}, StandIn: judgedAtLength, Hands: &someHands{}, ColdAged: agedOn(name)}))
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
					if strings.Contains(page, "post") {
						get(t, ctx, posted)
						until(t, ctx, "the answer to what was posted", "document.body.innerText.includes('Board A may stand in')")
					}
					wide, inner := get(t, ctx, chromedp.Evaluate[int]("document.documentElement.scrollWidth")), get(t, ctx, chromedp.Evaluate[int]("innerWidth"))
					if wide > inner || int64(inner) != size.w {
						t.Errorf("%s%s on a %s is %d px wide in a window of %d px (device %d)", name, page, size.name, wide, inner, size.w)
					}
					if dir != "" {
						png := get(t, ctx, chromedp.FullScreenshot(100))
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
