package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"steadyrail/capture"
)

// tenCommits makes the file of a job of ten commits and returns its bytes.
func tenCommits(t *testing.T) []byte {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	for i := range 10 {
		at := t0 + capture.Instant(i)*2*second
		for k := range capture.Instant(5) {
			j.Consume(volts(at+k, "dmm/volts", 5))
		}
		j.Consume(act(at+5, capture.ActNote))
		j.Transition(capture.Transition{At: at + 5, Alarm: "a"})
		settle(t, j)
	}
	verify(t, j)
	closeJob(t, j)
	content, err := os.ReadFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// tampered changes a copy of the file by hand and verifies it.
func tampered(t *testing.T, content []byte, statement string) error {
	t.Helper()
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA synchronous = OFF; " + statement); err != nil {
		t.Fatal(err)
	}
	db.Close()
	j, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close(ctx)
	_, err = j.Verify(ctx)
	return err
}

func TestVerifyNamesTheFirstCommitThatWasChanged(t *testing.T) {
	content := tenCommits(t)
	if err := tampered(t, content, "UPDATE item SET body = body"); err != nil {
		t.Fatalf("unchanged: %v", err)
	}
	const (
		atTheFourth = 0  // between the third commit's end and the fourth's
		atTheFirst  = 1  // commit 1
		anywhere    = -1 // it is found
	)
	for statement, place := range map[string]int64{
		"UPDATE item SET body = replace(body, 'note', 'Note') WHERE at = 1772438406000005":         atTheFourth,
		"UPDATE transition SET body = replace(body, '\"a\"', '\"b\"') WHERE at = 1772438406000005": atTheFourth,
		"UPDATE item SET kind = 'gap' WHERE at = 1772438406000005":                                 atTheFourth,
		"DELETE FROM item WHERE at = 1772438406000005":                                             atTheFourth,
		"UPDATE tail SET upto = upto + 1 WHERE first <= 22 AND last >= 22":                         atTheFourth,
		"UPDATE tail SET hash = zeroblob(32) WHERE first <= 22 AND last >= 22":                     atTheFourth,
		"UPDATE tail SET hash = zeroblob(31) WHERE n = 3":                                          anywhere,
		"UPDATE tail SET ties = 9 WHERE first <= 22 AND last >= 22":                                anywhere,
		"UPDATE channel SET name = 'dmm/ohms'":                                                     atTheFirst,
		"UPDATE channel SET quantity = 'wetness'":                                                  anywhere,
		"INSERT INTO item VALUES (0, 0, 'act', '{}')":                                              anywhere,
		"DELETE FROM tail WHERE n = 3":                                                             anywhere,
		"UPDATE tail SET last = last - 1 WHERE n = (SELECT max(n) FROM tail)":                      anywhere,
		"UPDATE tail SET upto = 0 WHERE n = 1":                                                     anywhere,
		"UPDATE tail SET data = zeroblob(9) WHERE n = 4":                                           anywhere,
		"UPDATE tail SET data = x'' WHERE n = 4":                                                   anywhere,
		"UPDATE tail SET data = (SELECT data FROM tail WHERE n = 3) WHERE n = 4":                   anywhere,
		"UPDATE tail SET data = substr(data, 1, length(data) - 1)":                                 anywhere,
		"INSERT INTO rest SELECT 1, 0, substr(data, 5) FROM tail WHERE n = 1":                      anywhere,
		"DELETE FROM channel": anywhere,
	} {
		err := tampered(t, content, statement)
		var broken *BrokenError
		if !errors.As(err, &broken) || !errors.Is(err, ErrBroken) {
			t.Errorf("%s\n\tnot found: %v", statement, err)
			continue
		}
		if place == atTheFirst && broken.Commit != 1 {
			t.Errorf("%s\n\tfound in commit %d, not 1", statement, broken.Commit)
		}
		if place == atTheFourth && (broken.From > t0+6*second || broken.To < t0+6*second) {
			t.Errorf("%s\n\tplaced between %s and %s", statement, broken.From, broken.To)
		}
	}
}

// longJob makes the file of a job with full blocks and folded commits, closed.
func longJob(t testing.TB) (path string, recs []capture.Record) {
	t.Helper()
	if testing.Short() {
		t.Skip("a long job takes long")
	}
	j := create(t, workspace(t, quick), "AB-0147")
	rnd := rand.New(rand.NewPCG(3, 4))
	for i := range 26_500 {
		rec := volts(t0+capture.Instant(i)*50_000+capture.Instant(rnd.IntN(40_000)), []capture.ChannelID{"a/volts", "b/volts", "c/volts"}[i%3], 5)
		r := rec.Item.(capture.Reading)
		r.Text = fmt.Sprintf("%+.5E", 5+rnd.NormFloat64()*1e-3)
		r.Value, _, _, _ = capture.ParseResponse(r.Text)
		rec.Item = r
		recs = append(recs, rec)
		j.Consume(rec)
		if i%1000 == 999 {
			recs = append(recs, act(rec.At+1, capture.ActNote))
			j.Consume(recs[len(recs)-1])
		}
		if i%50 == 49 { // more commits than the tail holds
			settle(t, j)
		}
	}
	closeJob(t, j)
	return j.Path(), recs
}

// In blocks and folded commits a change is found as well, and what lies before
// it can still be read.
func TestVerifyOfBlocks(t *testing.T) {
	path, recs := longJob(t)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	back, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	verify(t, back)
	wantSame(t, all(t, back, 0, 0), recs)
	from, to := recs[14_000].At, recs[16_500].At
	wantSame(t, all(t, back, from, to), recs[14_000:16_500])
	closeJob(t, back)
	const second = "(SELECT id FROM block ORDER BY id LIMIT 1 OFFSET 1)"
	for _, statement := range []string{
		"UPDATE block SET data = CAST(substr(data, 1, 4000) || x'00' || substr(data, 4002) AS BLOB) WHERE id = " + second,
		"UPDATE block SET data = substr(data, 1, length(data) - 1) WHERE id = " + second,
		"DELETE FROM block WHERE id = " + second,
		"UPDATE brief SET n = n + 1 WHERE id = " + second,
		"UPDATE brief SET base = base + 1 WHERE id = " + second,
		"UPDATE brief SET last_at = last_at + 1 WHERE id = " + second,
		"UPDATE brief SET data = substr(data, 1, length(data) - 1) WHERE id = " + second,
		"DELETE FROM brief WHERE id = " + second,
		"UPDATE fold SET hash = zeroblob(32)",
		"UPDATE fold SET tree = zeroblob(8)",
		"UPDATE fold SET data = zeroblob(length(data))",
		"UPDATE fold SET rule = 1",
		"UPDATE fold SET rule = 259",
		"DELETE FROM fold",
		"DELETE FROM rest WHERE channel = 2",
	} {
		var broken *BrokenError
		if err := tampered(t, content, statement); !errors.As(err, &broken) {
			t.Errorf("%s\n\tnot found: %v", statement, err)
		}
	}
}

// The bytes that spec.txt defines, written out a second time by hand, give the
// head that the program gives.
func TestChainAfterTheSpecification(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: math.Copysign(0, -1), Text: "-0.000", Resolution: 1e-3,
		Flags: capture.Held | capture.ByEye, Measured: 77, HalfWidth: 5, Ordinal: 3}
	j.Consume(capture.Record{At: t0, Job: "AB-0147", Item: r})
	j.Consume(act(t0+1, capture.ActNote))
	j.Transition(capture.Transition{At: t0 + 1, Alarm: "a"})
	settle(t, j)
	rows := rowsOf(t, j)
	le := binary.LittleEndian
	i64 := func(v int64) []byte { return le.AppendUint64(nil, uint64(v)) }
	f64 := func(v float64) []byte { return le.AppendUint64(nil, math.Float64bits(v)) }
	str := func(s string) []byte { return append(le.AppendUint32(nil, uint32(len(s))), s...) }
	rec := func(kind byte, parts ...[]byte) []byte {
		body := bytes.Join(parts, nil)
		return append(append([]byte{kind}, le.AppendUint32(nil, uint32(len(body)))...), body...)
	}
	parts := [][]byte{rec(1, i64(1), i64(int64(t0)), str("dmm/volts"), str("dc_voltage"), f64(math.Copysign(0, -1)), str("-0.000"),
		f64(1e-3), f64(0), le.AppendUint32(nil, 256|4096), i64(77), i64(5), i64(3)),
		rec(2, i64(2), i64(int64(t0+1)), str("act"), str(rows[1].body)),
		rec(3, i64(3), i64(int64(t0+1)), str(rows[2].body))}
	// The tree by hand (RFC 6962, section 2.1), after each commit: the writer may
	// have sealed the three records in one or more, each with a leaf.
	node := func(a, b [32]byte) [32]byte { return sha256.Sum256(append(append([]byte{1}, a[:]...), b[:]...)) }
	var leaves [][32]byte
	var want [32]byte
	snap, err := j.r.now(ctx)
	if err != nil {
		t.Fatal(err)
	}
	err = j.r.commits(ctx, snap, 1, func(s sealed) error {
		leaves = append(leaves, sha256.Sum256(append([]byte{0}, bytes.Join(parts[s.first-1:s.last], nil)...)))
		root := leaves[0]
		for _, leaf := range leaves[1:] { // at most three: the first two, and the third
			root = node(root, leaf)
		}
		want = sha256.Sum256(bytes.Join([][]byte{{3}, want[:], root[:], i64(int64(len(leaves))), i64(s.n), i64(s.first), i64(s.last), i64(int64(s.upto))}, nil))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if head := verify(t, j); head.Hash != hex.EncodeToString(want[:]) || head.Count != 3 {
		t.Errorf("head %+v, want %x", head, want)
	}
	if empty, err := create(t, workspace(t, quick), "empty").Head(ctx); err != nil || empty.Count != 0 || empty.Last != 0 || empty.Hash != hex.EncodeToString(make([]byte, 32)) {
		t.Errorf("empty job: %+v %v", empty, err)
	}
}
