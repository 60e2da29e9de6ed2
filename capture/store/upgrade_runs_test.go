package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// A file whose format was changed, and whose tail was not yet moved when the power
// failed, is one like any other: its commits say by which rule they were made.
func TestPowerFailsBehindAChangeOfFormat(t *testing.T) {
	for _, format := range []string{"format2", "format3"} {
		t.Run(format, func(t *testing.T) {
			w := workspace(t, quick)
			path, err := w.Path("AB-0147")
			if err != nil {
				t.Fatal(err)
			}
			for _, end := range []string{"", "-wal"} {
				packed, err := os.ReadFile(filepath.Join("testdata", format, "crashed"+Extension+end+".gz"))
				if err != nil {
					t.Fatal(err)
				}
				write(t, path+end, unpacked(t, packed))
			}
			want := rowsOf(t, opened(t, path))
			db, err := openWriter(ctx, path, jobKind)
			if err != nil {
				t.Fatal(err)
			}
			var waiting int
			err = db.QueryRow("SELECT count(*) FROM tail").Scan(&waiting)
			if err = errors.Join(err, jobKind.migrate(ctx, db, nil), db.Close()); err != nil || waiting == 0 {
				t.Fatalf("%d commits in the tail: %v", waiting, err)
			}
			now := opened(t, path)
			then := verify(t, now)
			if p, err := CheckProof(prove(t, now, int64(then.Count), ""), then.Hash); err != nil || p.Seq != int64(then.Count) {
				t.Errorf("proved %+v: %v", p, err)
			}
			j, err := w.Open("AB-0147", then.Last+second)
			if err != nil {
				t.Fatal(err)
			}
			if err := j.r.db.QueryRow("SELECT count(*) FROM tail WHERE rule <> 3").Scan(&waiting); err != nil || waiting != 0 {
				t.Errorf("%d commits of the old rule stay in the tail, where a fold would give them the new one: %v", waiting, err)
			}
			j.Consume(volts(then.Last+2*second, "dmm/volts", 5))
			settle(t, j)
			if head := verify(t, j); head.Count != then.Count+2 { // and the gap
				t.Errorf("%d records, there were %d", head.Count, then.Count)
			}
			for i, r := range rowsOf(t, j)[:len(want)] {
				if r.seq != want[i].seq || r.at != want[i].at || r.body != want[i].body || r.reading.Text != want[i].reading.Text {
					t.Fatalf("record %d: %+v, was %+v", i+1, r, want[i])
				}
			}
			if p, err := CheckProof(prove(t, j, 1, then.Hash), then.Hash); err != nil || p.Seq != 1 {
				t.Errorf("against the head of then: %+v %v", p, err)
			}
		})
	}
}
