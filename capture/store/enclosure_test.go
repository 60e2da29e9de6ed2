package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
)

// enclose keeps a content and has it named.
func enclose(t *testing.T, j *Job, at capture.Instant, content string) string {
	t.Helper()
	hash, err := j.Enclose(ctx, []byte(content))
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(capture.Enclosure{Hash: hash, Type: "image/jpeg", Bytes: len(content), Taken: at, Received: true})
	if err != nil {
		t.Fatal(err)
	}
	j.Consume(capture.Record{At: at, Job: "AB-0147", Item: capture.Act{Verb: capture.ActPicture, Subject: "+5 V converter, old", Text: string(text)}})
	settle(t, j)
	return hash
}

func erasing(at capture.Instant, hash string) capture.Record {
	return capture.Record{At: at, Job: "AB-0147", Item: capture.Act{Verb: capture.ActErase, Subject: hash, Text: "a face is on it"}}
}

func TestEnclosureIsKeptWithItsHash(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	hash := enclose(t, j, t0, "serial plate")
	if again, err := j.Enclose(ctx, []byte("serial plate")); err != nil || again != hash {
		t.Errorf("a second time: %s %v", again, err)
	}
	look := func(from *Job) {
		t.Helper()
		if data, err := from.Enclosure(ctx, hash); err != nil || string(data) != "serial plate" {
			t.Errorf("%q %v", data, err)
		}
		list, err := from.Enclosures(ctx)
		if err != nil || len(list) != 1 || list[0].What.Hash != hash || list[0].Erased != 0 || list[0].Act.Subject != "+5 V converter, old" {
			t.Errorf("%+v %v", list, err)
		}
		verify(t, from)
		if _, err := from.Enclosure(ctx, strings.Repeat("0", 64)); !errors.Is(err, ErrNoEnclosure) {
			t.Errorf("another hash: %v", err)
		}
	}
	look(j)
	look(reopened(t, j))
}

// picturedJob is the file of a job with a picture, and one that was erased.
func picturedJob(t *testing.T) string {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	hash := enclose(t, j, t0, "serial plate")
	enclose(t, j, t0+1, "the board")
	j.Consume(erasing(t0+2, hash))
	settle(t, j)
	if err := j.Unenclose(ctx, hash); err != nil {
		t.Fatal(err)
	}
	closeJob(t, j)
	return j.Path()
}

// reopened closes a job and opens its file for reading.
func reopened(t *testing.T, j *Job) *Job {
	t.Helper()
	closeJob(t, j)
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closeJob(t, back) })
	return back
}

func TestEnclosureOfAClosedJobIsRefused(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	closeJob(t, j)
	if _, err := j.Enclose(ctx, []byte("late")); !errors.Is(err, ErrClosed) {
		t.Error(err)
	}
	if _, err := reopened(t, create(t, workspace(t, quick), "AB-0147")).Enclose(ctx, []byte("x")); !errors.Is(err, ErrReadOnly) {
		t.Error(err)
	}
}

// An erased picture leaves its hash, and the record says when it went.
func TestEnclosureIsErased(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	content := strings.Repeat("a face on it ", 2000)
	hash := enclose(t, j, t0, content)
	kept := enclose(t, j, t0+1, "the board alone")
	if err := j.Unenclose(ctx, hash); err == nil {
		t.Error("erased, and the record does not say it")
	}
	j.Consume(erasing(t0+2, hash))
	settle(t, j)
	list, err := j.Enclosures(ctx)
	if err != nil || !list[0].Still || list[0].Erased != t0+2 {
		t.Errorf("between the act and the erasure: %+v %v", list, err)
	}
	if err := j.Unenclose(ctx, hash); err != nil {
		t.Fatal(err)
	}
	list, err = j.Enclosures(ctx)
	if err != nil || list[0].Still || list[0].Erased != t0+2 || list[0].Why != "a face is on it" || list[1].Erased != 0 {
		t.Errorf("%+v %v", list, err)
	}
	if _, err := j.Enclosure(ctx, hash); !errors.Is(err, ErrErased) {
		t.Error(err)
	}
	verify(t, j)
	back := reopened(t, j)
	if _, err := back.Enclosure(ctx, kept); err != nil {
		t.Error(err)
	}
	file, err := os.ReadFile(j.Path())
	if err != nil || bytes.Contains(file, []byte("a face on it a face")) {
		t.Errorf("the file still holds it: %v", err)
	}
}

func TestVerifyMissesAnEnclosure(t *testing.T) {
	for name, c := range map[string]struct{ statement, say string }{
		"taken out":  {"DELETE FROM enclosure", "is missing"},
		"other bits": {"UPDATE enclosure SET data = x'00'", "not that of its hash"},
		"moved":      {"UPDATE enclosure SET hash = zeroblob(32)", "is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			j := create(t, workspace(t, quick), "AB-0147")
			enclose(t, j, t0, "serial plate")
			if _, err := j.w.db.Exec(c.statement); err != nil {
				t.Fatal(err)
			}
			_, err := j.Verify(ctx)
			if !errors.Is(err, ErrBroken) || !strings.Contains(err.Error(), c.say) {
				t.Error(err)
			}
		})
	}
}

// A closed job of format 2 is read as it is: nothing in it would be changed.
func TestFormer(t *testing.T) {
	packed, err := os.ReadFile("testdata/format2/closed" + Extension + ".gz")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	write(t, path, unpacked(t, packed))
	j, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer closeJob(t, j)
	verify(t, j)
	if list, err := j.Enclosures(ctx); err != nil || list != nil {
		t.Errorf("%v %v", list, err)
	}
	if _, err := j.Enclosure(ctx, strings.Repeat("0", 64)); !errors.Is(err, ErrNoEnclosure) {
		t.Error(err)
	}
}
