package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// overflowing names what reaches beyond the window, for whoever has to mend it.
const overflowing = `[...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll"))
	.slice(0, 6).map((e) => e.tagName + "." + (e.className.baseVal ?? e.className) + " " + Math.round(e.getBoundingClientRect().right)).join("; ")`

// A report is read on a phone, too: it is no wider than the window, and a table
// that is scrolls in a box of its own.
func TestReportFitsAPhone(t *testing.T) {
	ctx := browser(t)
	style, err := os.ReadFile("report/report.css")
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		page, err := os.ReadFile("../testdata/golden/report/" + filepath.Base(r.URL.Path))
		if err != nil {
			http.NotFound(w, r)
			return
		}
		_, _ = w.Write([]byte(strings.Replace(string(page), "/* report.css */", string(style), 1))) // the golden files leave it out
	}))
	defer srv.Close()
	files, err := filepath.Glob("../testdata/golden/report/*.html")
	if err != nil || len(files) == 0 {
		t.Fatal("no golden reports", err)
	}
	for _, file := range files {
		do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile), chromedp.Navigate(srv.URL+"/"+filepath.Base(file)), chromedp.WaitReady(chromedp.CSS(".paper")))
		wide, inner := get(t, ctx, chromedp.Evaluate[int]("document.scrollingElement.scrollWidth")), get(t, ctx, chromedp.Evaluate[int]("innerWidth"))
		if wide > 390 || inner != 390 {
			t.Errorf("%s is %d px wide in a window of %d px: %s", filepath.Base(file), wide, inner, get(t, ctx, chromedp.Evaluate[string](overflowing)))
		}
		if dir := os.Getenv("STEADYRAIL_SHOTS"); dir != "" {
			png := get(t, ctx, chromedp.FullScreenshot(100))
			if err := os.WriteFile(filepath.Join(dir, "report-"+strings.TrimSuffix(filepath.Base(file), ".html")+"-phone.png"), png, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
