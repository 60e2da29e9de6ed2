package store

import (
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
)

// heads returns the head of every commit.
func heads(t testing.TB, j *Job) (out []capture.Head) {
	t.Helper()
	if err := j.verify(ctx, func(h capture.Head) { out = append(out, h) }); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestHeads(t *testing.T) {
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, tenCommits(t), 0o600); err != nil {
		t.Fatal(err)
	}
	j := opened(t, path)
	every := heads(t, j)
	foreign := strings.Repeat("ab", 32)
	got, err := j.Heads(ctx, every[2].Hash, every[7].Hash, foreign)
	if err != nil {
		t.Fatal(err)
	}
	newest := Commit{N: int64(len(every)), Head: every[len(every)-1]}
	if got.Newest != newest || len(got.Known) != 2 || got.Known[every[2].Hash] != (Commit{3, every[2]}) || got.Known[every[7].Hash] != (Commit{8, every[7]}) {
		t.Errorf("%+v", got)
	}
	for _, bad := range []string{"", "3f2a", strings.Repeat("x", 64)} {
		if _, err := j.Heads(ctx, bad); err == nil {
			t.Errorf("%q passed as a head", bad)
		}
	}
	empty, err := create(t, workspace(t, quick), "empty").Heads(ctx)
	if err != nil || empty.Newest.N != 0 || empty.Newest.Head.Hash != hex.EncodeToString(make([]byte, 32)) {
		t.Errorf("empty job: %+v %v", empty, err)
	}
}

// Behind damage nothing is said; what lies in front of it is, with the head that
// still holds.
func TestHeadsOfADamagedFile(t *testing.T) {
	long, recs := longJob(t)
	content, err := os.ReadFile(long)
	if err != nil {
		t.Fatal(err)
	}
	every := heads(t, opened(t, long))
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	note := recs[len(recs)-1].At
	if _, err := db.Exec("PRAGMA journal_mode = DELETE; UPDATE item SET body = replace(body, 'note', 'Note') WHERE seq = (SELECT max(seq) FROM item WHERE at < ?)", int64(note)); err != nil {
		t.Fatal(err)
	}
	var at capture.Instant
	if err := db.QueryRow("SELECT max(at) FROM item WHERE at < ?", int64(note)).Scan(&at); err != nil {
		t.Fatal(err)
	}
	db.Close()
	got, err := opened(t, path).Heads(ctx, every[1].Hash, every[len(every)-1].Hash)
	var broken *BrokenError
	if !errors.As(err, &broken) {
		t.Fatal(err)
	}
	if broken.From > at || broken.To < at {
		t.Errorf("the change at %s was placed between %s and %s", at, broken.From, broken.To)
	}
	if got.Newest.N < 1 || got.Newest.N+1 != broken.Commit || got.Newest.Head != every[got.Newest.N-1] || got.Newest.Head.Last > at {
		t.Errorf("still holds: %+v; broken from %d", got.Newest, broken.Commit)
	}
	if len(got.Known) != 1 || got.Known[every[1].Hash].N != 2 {
		t.Errorf("heads: %+v", got.Known)
	}
}

// Whoever cuts off the end of a file leaves a chain that agrees. Only a head from
// elsewhere shows it.
func TestACutOffEndIsSeenByAHeadAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, tenCommits(t), 0o600); err != nil {
		t.Fatal(err)
	}
	every := heads(t, opened(t, path))
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	_, err = db.Exec(`DELETE FROM tail WHERE n > 5; DELETE FROM item WHERE seq > (SELECT max(last) FROM tail);
		DELETE FROM transition WHERE seq > (SELECT max(last) FROM tail)`)
	if err != nil {
		t.Fatal(err)
	}
	db.Close()
	got, err := opened(t, path).Heads(ctx, every[4].Hash, every[7].Hash)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := got.Known[every[7].Hash]; ok || got.Newest.N != 5 || got.Known[every[4].Hash] != got.Newest {
		t.Errorf("%+v", got)
	}
}
