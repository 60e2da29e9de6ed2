package app_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
)

// photo is a JPEG with a comment that nobody needs to know.
func photo(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 900, 600)), nil); err != nil {
		t.Fatal(err)
	}
	const secret = "52 31 12 N 13 24 17 E"
	plain := b.Bytes()
	out := append([]byte{0xff, 0xd8, 0xff, 0xfe, 0, byte(len(secret) + 2)}, secret...)
	return append(out, plain[2:]...)
}

func wav() []byte {
	return []byte("RIFF\x28\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1f\x00\x00\x80\x3e\x00\x00\x02\x00\x10\x00data\x04\x00\x00\x00\x00\x00\x01\x00")
}

// Everything that stands beside readings, from taking it in to the file that is
// left of the job.
func TestEntriesOfAJob(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	ctx := t.Context()
	r.open(jobID)
	enclose := func(f dashboards.File) string {
		t.Helper()
		res, err := r.Enclose(ctx, "", f)
		r.must(err)
		_, entries, err := r.JobEntries(ctx, res.Job)
		r.must(err)
		what, ok := entries[len(entries)-1].Act.Enclosure()
		if !ok || !strings.Contains(res.Say, f.Of) {
			t.Errorf("%q: %+v", res.Say, entries)
		}
		return what.Hash
	}
	plate := enclose(dashboards.File{Data: photo(t), Of: "serial plate"})
	board := enclose(dashboards.File{Data: append(photo(t), "more"...), Of: "+5 V converter, old"})
	if plate != board { // the same image, whatever stood behind it
		t.Error("what stands behind the end of a picture makes another of it")
	}
	noise := enclose(dashboards.File{Data: wav(), Of: "whine"})

	kind, data, err := r.Enclosure(ctx, "", plate, false)
	if err != nil || kind != "image/jpeg" || bytes.Contains(data, []byte("52 31 12")) {
		t.Errorf("%s, %v, the position is there: %v", kind, err, bytes.Contains(data, []byte("52 31 12")))
	}
	kind, data, err = r.Enclosure(ctx, "", plate, true)
	if c, e := jpeg.DecodeConfig(bytes.NewReader(data)); err != nil || e != nil || kind != "image/jpeg" || c.Width != 640 {
		t.Errorf("small: %s %v %v %+v", kind, err, e, c)
	}
	_, _, err = r.Enclosure(ctx, "", strings.Repeat("0", 64), true)
	refused(t, "a picture that never was", err, dashboards.NotFound)
	_, _, err = r.Enclosure(ctx, "", noise, true)
	refused(t, "a small sound", err, dashboards.Invalid)
	for what, data := range map[string][]byte{"a page": []byte("<script>alert(1)</script>"), "half a picture": photo(t)[:900], "nothing": nil} {
		_, err = r.Enclose(ctx, "", dashboards.File{Data: data})
		refused(t, what, err, dashboards.Invalid)
	}

	part := capture.Fitted{Type: "SR-5", Maker: "Alder", Origin: "new from distributor", DateCode: "3127", Quantity: 1, Replaces: "potted +5 V converter"}
	if res := r.act(part.Act("PS2", "")); !strings.Contains(res.Say, "PS2: fitted SR-5 by Alder, new from distributor, date code 3127, in place of potted") {
		t.Error(res.Say)
	}
	part.Origin = " "
	_, err = r.Act(ctx, "", part.Act("PS2", ""))
	refused(t, "a part from nowhere", err, dashboards.Invalid, "own stock")
	if res := r.act(capture.Act{Verb: capture.ActIndication, Text: "3 blinks, pause"}); !strings.Contains(res.Say, "not evidence") {
		t.Error(res.Say)
	}

	_, err = r.EraseEnclosure(ctx, "", noise, "")
	refused(t, "an erasure without a reason", err, dashboards.Invalid)
	_, err = r.EraseEnclosure(ctx, "", noise, "a voice is on it")
	r.must(err)
	_, _, err = r.Enclosure(ctx, "", noise, false)
	refused(t, "an erased sound", err, dashboards.NotFound, "a voice is on it")

	var page bytes.Buffer
	r.must(r.Report(ctx, "", &page))
	for _, want := range []string{"data:image/jpeg;base64,", "Serial plate", "potted +5", "new from distributor", "3 blinks, pause", "Indications, not evidence"} {
		if !strings.Contains(strings.ReplaceAll(page.String(), "&#43;", "+"), want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	code, answer := r.ask("GET", "/api/v1/jobs/"+jobID+"/enclosures/"+plate, "")
	if code != 200 || !strings.HasPrefix(answer, "\xff\xd8") {
		t.Errorf("over HTTP: %d", code)
	}
	if code, _ := r.ask("DELETE", "/api/v1/jobs/"+jobID+"/enclosures/"+plate, `{"why":"x"}`); code != 401 {
		t.Errorf("erased without the token: %d", code)
	}

	r.act(capture.Act{Verb: capture.ActClose})
	if _, data, err := r.Enclosure(ctx, jobID, plate, true); err != nil || len(data) == 0 {
		t.Errorf("of a closed job: %v", err)
	}
	path := filepath.Join(r.cfg.Workspace, "jobs", jobID+store.Extension)
	f, err := store.OpenFile(path)
	r.must(err)
	defer f.Close(ctx)
	list, err := f.Enclosures(ctx)
	if err != nil || len(list) != 3 || list[2].Erased == 0 || list[0].Erased != 0 {
		t.Errorf("%+v %v", list, err)
	}
	if _, err := f.Verify(ctx); err != nil {
		t.Error(err)
	}
	if raw, err := os.ReadFile(path); err != nil || bytes.Contains(raw, []byte("52 31 12")) {
		t.Errorf("the position is in the file (%v)", err)
	}
}

// A set that comes back is known by its serial number, said as people say it.
func TestReturned(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	ctx := t.Context()
	text := func(s string) *string { return &s }
	measure := func(id, value string) {
		t.Helper()
		r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "known board"})
		_, err := r.Enter(ctx, id, dashboards.Typed{Rail: five, Text: value, Sure: true})
		r.must(err)
	}
	r.open("AB-0101")
	res, err := r.SetSheet(ctx, "", dashboards.SheetChange{Customer: text("K. Lindgren"), SerialNumber: text("0088-1234")})
	if err != nil || strings.Contains(res.Say, "here before") {
		t.Errorf("%q %v", res.Say, err)
	}
	measure("AB-0101", "5.01")
	if got, err := r.Returned(ctx, "AB-0101"); err != nil || got != nil {
		t.Errorf("a first job: %+v %v", got, err)
	}
	r.act(capture.Act{Verb: capture.ActClose})

	back := sheet(t, "AB-0147")
	back.SerialNumber = "0088 1234"
	res, err = r.OpenJob(ctx, back)
	if err != nil || !strings.Contains(res.Say, "was here before, as AB-0101") {
		t.Errorf("%q %v", res.Say, err)
	}
	measure("AB-0147", "4.85")
	got, err := r.Returned(ctx, "")
	if err != nil || got == nil || got.Job != "AB-0101" || got.Left == 0 || len(got.Rails) != 1 {
		t.Fatalf("%+v %v", got, err)
	}
	if line := got.Rails[0]; line.Rail != five || line.Left == nil || line.Back == nil || line.Left.Value != 5.01 || line.Back.Value != 4.85 || line.Moved || !strings.Contains(line.Say, "no uncertainty is stated") {
		t.Errorf("%+v", line)
	}
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: back.Rails[1].Name, Text: "11.98", Sure: true})
	r.must(err)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Isolate, Text: "+5 V is low"})
	if got, err = r.Returned(ctx, ""); err != nil || len(got.Rails) != 2 {
		t.Errorf("what was measured last before the live checks ended is not in it: %+v %v", got, err)
	}
	var page bytes.Buffer
	r.must(r.Report(ctx, "", &page))
	if !strings.Contains(page.String(), "As it left, as it returned") {
		t.Error("the report does not compare")
	}
	_, entries, err := r.JobEntries(ctx, "AB-0101")
	r.must(err)
	said := false
	for _, e := range entries {
		said = said || strings.Contains(e.Text, "customer “K. Lindgren”")
	}
	if !said {
		t.Errorf("the entries do not say that the sheet was completed: %+v", entries)
	}
	if list, err := r.Jobs(ctx); err != nil || len(list) != 2 || list[0].SerialNumber != "0088 1234" {
		t.Errorf("%+v %v", list, err)
	}
}
