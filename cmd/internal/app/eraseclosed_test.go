package app_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
)

// A picture of a closed job can be erased alone: the job stays closed, its chain goes
// on, a head from before is in it as ever, and what is not erased is there.
func TestEraseInAClosedJob(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open(jobID)
	ctx := t.Context()
	hash := func(f dashboards.File) string {
		_, err := r.Enclose(ctx, "", f)
		r.must(err)
		_, entries, err := r.JobEntries(ctx, jobID)
		r.must(err)
		what, _ := entries[len(entries)-1].Act.Enclosure()
		return what.Hash
	}
	face, noise := hash(dashboards.File{Data: photo(t), Of: "who brought it"}), hash(dashboards.File{Data: wav(), Of: "whine"})
	_, kept, err := r.Enclosure(ctx, "", face, false)
	r.must(err)
	r.act(capture.Act{Verb: capture.ActClose})
	path := filepath.Join(r.cfg.Workspace, "jobs", jobID+store.Extension)
	before := headsOf(t, path)

	_, err = r.EraseEnclosure(ctx, jobID, face, "")
	refused(t, "without a reason", err, dashboards.Invalid)
	_, err = r.EraseEnclosure(ctx, "AB-0199", face, "a face")
	refused(t, "no such job", err, dashboards.NotFound)
	_, err = r.EraseEnclosure(ctx, jobID, strings.Repeat("0", 64), "a face")
	refused(t, "no such picture", err, dashboards.NotFound)
	res, err := r.EraseEnclosure(ctx, jobID, face, "a face is on it")
	r.must(err)
	if !strings.Contains(res.Say, "a face is on it") || !strings.Contains(res.Say, "out of reach") {
		t.Errorf("%q", res.Say)
	}
	_, _, err = r.Enclosure(ctx, jobID, face, true)
	refused(t, "an erased picture", err, dashboards.NotFound, "a face is on it")
	if _, _, err := r.Enclosure(ctx, jobID, noise, false); err != nil {
		t.Errorf("the other one: %v", err)
	}
	_, err = r.EraseEnclosure(ctx, jobID, face, "again")
	refused(t, "twice", err, dashboards.NotFound, "erased")
	if code, list := r.ask("GET", "/api/v1/jobs", ""); code != 200 || !strings.Contains(list, `"closed"`) {
		t.Errorf("the job is not closed: %s", list)
	}

	if raw, err := os.ReadFile(path); err != nil || bytes.Contains(raw, kept[len(kept)/2:][:64]) {
		t.Errorf("its content is in the file (%v)", err)
	}
	after := headsOf(t, path, before.Newest.Head.Hash)
	if c, ok := after.Known[before.Newest.Head.Hash]; !ok || c.Head.Count != before.Newest.Head.Count || after.Newest.Head.Count != before.Newest.Head.Count+1 {
		t.Errorf("before %+v, after %+v", before.Newest, after)
	}
	f, err := store.OpenFile(path)
	r.must(err)
	defer f.Close(ctx)
	list, err := f.Enclosures(ctx)
	if err != nil || len(list) != 2 || list[0].Erased == 0 || list[0].Still || list[1].Erased != 0 {
		t.Errorf("%+v %v", list, err)
	}
	r.read(jobID) // verified, and judged again to the same
}

func headsOf(t *testing.T, path string, want ...string) store.Heads {
	t.Helper()
	f, err := store.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(t.Context())
	h, err := f.Heads(t.Context(), want...)
	if err != nil {
		t.Fatal(err)
	}
	return h
}
