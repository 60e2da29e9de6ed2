package report

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// What stands beside readings is on the report: pictures as data, parts with
// their origin, indications apart, and how the set left before.
func TestKept(t *testing.T) {
	hash, gone := strings.Repeat("b1ff9c8ea3a780ba", 4), strings.Repeat("0", 64)
	at := capture.InstantOf(time.Date(2031, 3, 12, 9, 4, 5, 0, time.UTC))
	picture := func(hash, of string) capture.Entry {
		return capture.Entry{At: at, Stage: capture.Isolate, Act: capture.Act{Verb: capture.ActPicture, Subject: of, Text: `{"sha256":"` + hash + `","type":"image/jpeg","bytes":9,"taken":1931072645000000,"received":true,"camera":"2031:03:12 10:04:05"}`}, Text: "x"}
	}
	part := capture.Fitted{Type: "SR-5", Maker: "Alder", Origin: "from donor board", DateCode: "3127", Quantity: 2, Replaces: "PS2", Cost: "12.40 EUR"}
	d := capture.Dossier{Sheet: capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88"}, Entries: []capture.Entry{
		picture(hash, "serial plate"), picture(gone, "a face"), picture(strings.Repeat("1", 64), "lost"),
		{At: at, Act: capture.Act{Verb: capture.ActErase, Subject: gone, Text: "privacy"}, Text: "Erased."},
		{At: at, Stage: capture.Isolate, Act: part.Act("U7", ""), Text: "U7: fitted."},
		{At: at, Stage: capture.Isolate, Act: capture.Act{Verb: capture.ActIndication, Text: "<3 blinks>"}, Text: "The set says"},
	}}
	v := func(x float64) *capture.Result {
		return &capture.Result{Quantity: capture.DCVoltage, Value: x, Uncertainty: .006, Resolution: .001, At: at}
	}
	o := Options{Return: &capture.Return{Job: "AB-0101", Left: at, Rails: []capture.ReturnRail{{Rail: "+5 V logic", Left: v(5.012), Back: v(4.963), Moved: true, Say: "Down by 49 mV ± 10 mV"}}},
		Picture: func(h string) ([]byte, error) {
			if h == hash {
				return []byte("\xff\xd8picture"), nil
			}
			return nil, errors.New("it is missing")
		}}
	var b bytes.Buffer
	if err := HTML(&b, d, o); err != nil {
		t.Fatal(err)
	}
	page := strings.NewReplacer("&#43;", "+", "\u00a0", " ", "\u202f", " ").Replace(b.String())
	for _, want := range []string{
		`src="data:image/jpeg;base64,/9hwaWN0dXJl"`, "<b>Serial plate</b>", "the camera’s clock showed 2031-03-12 10:04:05", "Erased: privacy.", "It is missing.",
		"SR-5, Alder", "from donor board", "12.40 EUR", "“&lt;3 blinks&gt;”", "Indications, not evidence", "<b>Down by 49 mV ± 10 mV</b>", "job AB-0101, closed 2031-03-12",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the report has no %q", want)
		}
	}
	if found, _, ok := strings.Cut(page, "<h2>What was found, step by step</h2>"); ok {
		t.Errorf("pictures, parts or indications stand among the findings: %d", len(found))
	}
	if dir := os.Getenv("STEADYRAIL_SHOTS"); dir != "" {
		if err := os.WriteFile(dir+"/report-kept.html", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
