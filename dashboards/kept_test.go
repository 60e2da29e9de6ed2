package dashboards_test

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// keeping serves pictures that are not there, and shows an open page for a phone.
type keeping struct{ dashboards.Entries }

func (keeping) Enclosure(_ context.Context, _, hash string, _ bool) (string, []byte, error) {
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := range img.Pix {
		img.Pix[i] = byte(i / 4 % 640 / 3)
	}
	for x := range 300 {
		img.SetRGBA(x+100, x, color.RGBA{200, 90, 20, 255})
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, nil)
	return "image/jpeg", b.Bytes(), err
}

func (keeping) OpenHandover(string) (dashboards.Handover, bool) {
	return dashboards.Handover{Job: "AB-0147", URL: "https://192.168.178.20:48211/AAAAAAAAAAAAAAAAAAAAAA", Ends: start.Time().Add(10 * time.Minute), Received: 2,
		Fingerprint: strings.TrimSuffix(strings.Repeat("3F:2A:90:BC:", 8), ":")}, true
}

func (keeping) Returned(context.Context, string) (*capture.Return, error) {
	v := func(x, u float64) *capture.Result {
		return &capture.Result{Quantity: capture.DCVoltage, Value: x, Uncertainty: u, Resolution: .001, At: start}
	}
	return &capture.Return{Job: "AB-0101", Left: start.Add(-200 * 24 * time.Hour), Rails: []capture.ReturnRail{
		{Rail: "+5 V logic", Quantity: capture.DCVoltage, Left: v(5.012, .006), Back: v(4.963, .008), Moved: true, Say: "Down by 49 mV ± 10 mV"},
		{Rail: "+12 V audio", Quantity: capture.DCVoltage, Left: v(12.07, .04), Say: "Not measured yet"},
	}}, nil
}

// kept is the night with pictures, sounds, parts and what the set says.
func kept() *fakeBench {
	s := night()
	j := &s.Jobs[0]
	hash := strings.Repeat("b1ff9c8ea3a780ba", 4)
	add := func(stage capture.Stage, a capture.Act, text string) {
		at := j.Stages[0].From
		for _, span := range j.Stages {
			if span.Stage == stage {
				at = span.From
			}
		}
		j.Entries = append(j.Entries, capture.Entry{At: at.Add(time.Duration(len(j.Entries)+1) * time.Second), Stage: stage, Act: a, Text: text})
	}
	enclosure := `{"sha256":"` + hash + `","type":"image/jpeg","bytes":2100000,"width":4032,"height":3024,"taken":1}`
	add(capture.TakeIn, capture.Act{Verb: capture.ActPicture, Subject: "serial plate", Text: enclosure}, "Picture of serial plate (jpeg, 4032 × 3024, 2.1 MB, taken by the camera’s clock).")
	add(capture.TakeIn, capture.Act{Verb: capture.ActPicture, Subject: "board as received", Text: enclosure}, "Picture of board as received (jpeg, 4032 × 3024, 1.8 MB, taken by the camera’s clock).")
	add(capture.TakeIn, capture.Act{Verb: capture.ActSound, Subject: "whine", Text: enclosure}, "Sound of whine (webm, 88 kB, time of receipt).")
	add(capture.TakeIn, capture.Act{Verb: capture.ActIndication, Text: "3 blinks, pause"}, "The set says “3 blinks, pause”: an indication, not evidence.")
	part := capture.Fitted{Type: "SR-5", Maker: "Alder", Origin: "new from distributor", DateCode: "3127", Quantity: 1, Replaces: "potted +5 V converter", Cost: "12.40 EUR"}
	add(capture.StandIn, part.Act("PS2", ""), "PS2: fitted "+part.Say()+".")
	return newFake(s)
}

// The Job page shows small pictures, the code for the phone and what came back;
// the page for the phone fits a phone.
func TestKeptInABrowser(t *testing.T) {
	ctx := browser(t)
	dir := os.Getenv("STEADYRAIL_SHOTS")
	srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: kept(), Entries: keeping{}, Token: token, Zone: time.UTC}))
	defer srv.Close()
	host := ""
	phone := httptest.NewServer(dashboards.NewPhone(dashboards.PhoneOptions{Job: "AB-0147", Token: "t", Host: func() string { return host }, Closed: func() bool { return false },
		Take: func(*http.Request, dashboards.File) (dashboards.Result, error) { return dashboards.Result{}, nil }}))
	defer phone.Close()
	host = strings.TrimPrefix(phone.URL, "http://")
	for _, page := range []struct{ name, url string }{{"kept", srv.URL + "/job?token=" + token}, {"upload", phone.URL + "/t"}} {
		for _, size := range []struct {
			name string
			w, h int64
		}{{"desk", 1440, 2200}, {"phone", 390, 3600}} {
			for _, theme := range []string{"light", "dark"} {
				if dir == "" && theme == "dark" {
					continue
				}
				do(t, ctx, chromedp.EmulateViewport(size.w, size.h), prefers(theme), chromedp.Navigate(page.url), chromedp.WaitReady(chromedp.CSS("h1")))
				if wide := get(t, ctx, chromedp.Evaluate[int]("document.documentElement.scrollWidth")); int64(wide) > size.w {
					t.Errorf("%s on a %s is %d px wide", page.name, size.name, wide)
				}
				if dir != "" {
					png := get(t, ctx, chromedp.CaptureScreenshot())
					if err := os.WriteFile(filepath.Join(dir, page.name+"-"+size.name+"-"+theme+".png"), png, 0o644); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if page.name == "upload" {
			if got := get(t, ctx, chromedp.Evaluate[int](`document.querySelector(".pick span").getBoundingClientRect().height`)); got < 90 {
				t.Errorf("the button for a picture is %d px high", got)
			}
			continue
		}
		const look = `(() => { const i = [...document.querySelectorAll(".thumb img")]; return i.length === 2 && i.every((x) => x.width <= 100) &&
			document.querySelector("audio") !== null && document.querySelector(".qr") !== null && document.body.innerText.includes("3F:2A:90:BC") &&
			document.body.innerText.includes("Down by 49 mV"); })()`
		if !get(t, ctx, chromedp.Evaluate[bool](look)) {
			t.Error("pictures, sound, code, fingerprint or comparison are missing")
		}
	}
}
