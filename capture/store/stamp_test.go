package store

import (
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store/timestamp"
)

// kept is a request and response that another program once gave; see
// timestamp/testdata. What it is about is no head of any job.
func kept(t *testing.T) Stamp {
	t.Helper()
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join("timestamp", "testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	s := Stamp{Commit: 3, Request: read("request.tsq"), Response: read("response.tsr"), Authority: "https://clock.example"}
	r, err := timestamp.ParseRequest(s.Request)
	if err != nil {
		t.Fatal(err)
	}
	digest := r.Digest()
	s.Head = hex.EncodeToString(digest[:])
	return s
}

// A stamp stands beside the log: it changes no hash, stays through all that
// happens to a file, and a closed file stays one file.
func TestStamps(t *testing.T) {
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, tenCommits(t), 0o600); err != nil {
		t.Fatal(err)
	}
	j, s := opened(t, path), kept(t)
	before := verify(t, j)
	want := []Stamp{s, s}
	for range want {
		if err := j.AddStamp(ctx, s); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := j.Stamps(ctx); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v %v", got, err)
	}
	if after := verify(t, j); after != before {
		t.Errorf("the head was %v and is %v", before, after)
	}
	if files, _ := filepath.Glob(path + "*"); len(files) != 1 {
		t.Errorf("beside the file: %v", files)
	}
	copied := filepath.Join(t.TempDir(), "copy"+Extension)
	if err := j.Backup(ctx, copied); err != nil {
		t.Fatal(err)
	}
	if got, err := opened(t, copied).Stamps(ctx); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("the copy: %+v %v", got, err)
	}
	if _, err := s.Token(); err != nil {
		t.Error(err)
	}
}

func TestStampsThatAreRefused(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	j.Consume(volts(t0, "dmm/volts", 5))
	settle(t, j)
	s := kept(t)
	if err := j.AddStamp(ctx, s); err == nil {
		t.Error("a job was stamped while it is written")
	}
	closeJob(t, j)
	back := opened(t, j.Path())
	if err := back.AddStamp(ctx, s); !errors.Is(err, ErrHeld) {
		t.Errorf("in a workspace that is held: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	other, short := s, s
	other.Head = strings.Repeat("ab", 32)
	short.Response = s.Response[:40]
	if err := back.AddStamp(ctx, other); !errors.Is(err, timestamp.ErrMismatch) {
		t.Errorf("about another head: %v", err)
	}
	if err := back.AddStamp(ctx, short); !errors.Is(err, timestamp.ErrMalformed) {
		t.Errorf("a piece of a response: %v", err)
	}
	if got, err := back.Stamps(ctx); err != nil || len(got) != 0 {
		t.Errorf("kept: %+v %v", got, err)
	}
	if err := back.AddStamp(ctx, s); err != nil {
		t.Errorf("in a workspace that is free: %v", err)
	}
	r, err := (Commit{N: 1, Head: verify(t, back)}).Request()
	if digest := r.Digest(); err != nil || hex.EncodeToString(digest[:]) != verify(t, back).Hash {
		t.Errorf("request: %v %v", r, err)
	}
	if _, err := (Commit{Head: capture.Head{Hash: "3f2a?"}}).Request(); err == nil {
		t.Error("3f2a? was asked about")
	}
}
