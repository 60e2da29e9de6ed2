package store

import (
	"encoding/hex"
	"errors"
	"os"
	"runtime"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// regular makes the i-th reading of a channel that costs next to nothing.
func regular(i int) capture.Record {
	return volts(t0+capture.Instant(i)*1000, "m/volts", 5.012)
}

// Readings that are nearly free wait by the ten thousand for a full block, and no
// more than a block can hold.
func TestReadingsThatCostNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("a hundred thousand readings take long")
	}
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	var want []capture.Record
	for i := range 104_000 {
		want = append(want, regular(i))
		j.Consume(want[i])
		if i%200 == 199 {
			settle(t, j)
		}
	}
	want = append(want, act(want[len(want)-1].At+1, capture.ActClose))
	j.Consume(want[len(want)-1])
	closeJob(t, j)
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	wantSame(t, all(t, back, 0, 0), want)
	verify(t, back)
	if info, err := os.Stat(j.Path()); err != nil || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("the compact file is open to all: %v %v", info.Mode(), err)
	}
}

// A summary that is not true must not make the writer let go of readings.
func TestUntrueSummaryIsNotWrittenOn(t *testing.T) {
	path, _ := longJob(t)
	for _, statement := range []string{
		"UPDATE brief SET n = n + 5 WHERE id = (SELECT max(id) FROM brief)",
		"UPDATE brief SET base = base + 5 WHERE id = (SELECT max(id) FROM brief)",
		"UPDATE brief SET base = base + 5, n = n - 5 WHERE id = (SELECT max(id) FROM brief)",
	} {
		w := workspace(t, quick)
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		to, err := w.Path("AB-0147")
		if err != nil {
			t.Fatal(err)
		}
		write(t, to, content)
		spoil(t, to, statement)
		if _, err := w.Open("AB-0147", t0+9000*second); !errors.Is(err, ErrBroken) {
			t.Errorf("%s: opened for writing: %v", statement, err)
		}
	}
}

// The row of table fold that leads readers to a commit is verified whole.
func TestFoldLeadsNobodyAstray(t *testing.T) {
	path, _ := longJob(t)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, statement := range []string{
		"UPDATE fold SET last = last - 30, upto = upto + 30000 WHERE n = 512",
		"UPDATE fold SET ties = ties + 1 WHERE n = 512",
		"UPDATE tail SET upto = 9223372036854775000 WHERE n = (SELECT max(n) FROM tail)",
	} {
		if err := tampered(t, content, statement); !errors.Is(err, ErrBroken) {
			t.Errorf("%s: %v", statement, err)
		}
	}
}

// What a ruined file says of itself neither hangs a reader nor takes its memory.
func TestRuinedFilesEnd(t *testing.T) {
	rows := make([]block.Row, block.MaxRows)
	for i := range rows {
		rows[i].At = t0 + capture.Instant(i)
	}
	var e block.Encoder
	data := e.Append(nil, rows)
	var tail []byte
	for i := range 30 {
		tail = appendChunk(tail, chunk{1, int64(i) * block.MaxRows, data})
	}
	spans := []capture.Span{{Channel: "m/volts", From: t0}}
	for _, statement := range []string{
		"UPDATE tail SET data = x'" + hex.EncodeToString(tail) + "'",
		"UPDATE tail SET upto = 9223372036854775000",
		"UPDATE tail SET upto = -9223372036854775000",
	} {
		j := create(t, workspace(t, quick), "AB-0147")
		j.Consume(regular(0))
		settle(t, j)
		closeJob(t, j)
		spoil(t, j.Path(), statement)
		back, err := OpenFile(j.Path())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := back.Series(ctx, spans, capture.DCVoltage, 0, 0, 100); !errors.Is(err, block.ErrCorrupt) {
			t.Errorf("%.60s: %v", statement, err)
		}
		closeJob(t, back)
	}
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(regular(0))
	settle(t, j)
	if got, err := j.Series(ctx, []capture.Span{{Channel: "m/volts"}}, capture.DCVoltage, -1<<63+1, 1<<63-1, 100); err != nil || len(got) == 0 {
		t.Errorf("the widest question: %d buckets, %v", len(got), err)
	}
}

// A summary that is missing in the middle is not passed over in silence.
func TestMissingSummary(t *testing.T) {
	path, _ := longJob(t)
	spoil(t, path, "DELETE FROM brief WHERE id = (SELECT id FROM brief ORDER BY id LIMIT 1 OFFSET 1)")
	j, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close(ctx)
	if _, err := j.Series(ctx, []capture.Span{{Channel: "a/volts", From: t0}}, capture.DCVoltage, 0, 0, 1); !errors.Is(err, block.ErrCorrupt) {
		t.Errorf("no error: %v", err)
	}
}

// A change of format that was interrupted can be done again.
func TestChangeOfFormatTwice(t *testing.T) {
	w, path := oldJob(t)
	write(t, path+".format1.new", []byte("half a copy"))
	spoil(t, path, "CREATE TABLE block (a)") // in the way of the new one
	if _, err := w.Open("AB-0147", t0+1000*second); err == nil {
		t.Fatal("opened")
	}
	spoil(t, path, "DROP TABLE block")
	j, err := w.Open("AB-0147", t0+1000*second)
	if err != nil {
		t.Fatal(err)
	}
	closeJob(t, j)
	if info, err := os.Stat(path + ".format1"); err != nil || info.Size() == 0 {
		t.Errorf("the copy: %v", err)
	}
}

// A compact file that cannot be made is no loss: the job stays in the larger one.
func TestCompactFileInTheWay(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	if err := os.MkdirAll(j.Path()+".new/in the way", 0o700); err != nil {
		t.Fatal(err)
	}
	want := []capture.Record{act(t0, capture.ActOpen), regular(1), act(t0+2000, capture.ActClose)}
	for _, rec := range want {
		j.Consume(rec)
	}
	closeJob(t, j)
	if fileExists(j.Path() + "-wal") {
		t.Error("a write-ahead log was left behind")
	}
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	wantSame(t, all(t, back, 0, 0), want)
}
