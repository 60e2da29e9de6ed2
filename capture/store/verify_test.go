package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math"
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
	if err := tampered(t, content, "UPDATE reading SET value = value"); err != nil {
		t.Fatalf("unchanged: %v", err)
	}
	for statement, commit := range map[string]int64{
		"UPDATE reading SET value = 5.0000000000000009 WHERE seq = 22":                                                                               0, // by n below
		"UPDATE reading SET text = text || ' ' WHERE at = 1772438406000002":                                                                          0,
		"UPDATE reading SET flags = 256 WHERE at = 1772438406000002":                                                                                 0,
		"UPDATE item SET body = replace(body, 'note', 'Note') WHERE at = 1772438406000005":                                                           0,
		"UPDATE transition SET body = replace(body, '\"a\"', '\"b\"') WHERE at = 1772438406000005":                                                   0,
		"DELETE FROM reading WHERE at = 1772438406000002":                                                                                            0,
		"UPDATE reading SET at = at + 1 WHERE at = 1772438406000002":                                                                                 0,
		"UPDATE sealed SET upto = upto + 1 WHERE first <= 22 AND last >= 22":                                                                         0,
		"UPDATE sealed SET hash = zeroblob(32) WHERE first <= 22 AND last >= 22":                                                                     0,
		"UPDATE channel SET name = 'dmm/ohms'":                                                                                                       1,
		"INSERT INTO item VALUES (0, 0, 'act', '{}')":                                                                                                -1,
		"UPDATE cell SET min = 4.9":                                                                                                                  -1,
		"DELETE FROM cell":                                                                                                                           -1,
		"DELETE FROM sealed WHERE n = 3":                                                                                                             -1,
		"UPDATE sealed SET last = last - 1, hash = hash WHERE n = (SELECT max(n) FROM sealed)":                                                       -1,
		"UPDATE reading SET seq = 1000 WHERE seq = 1":                                                                                                1,
		"UPDATE sealed SET upto = 0 WHERE n = 1; UPDATE reading SET value = value WHERE 0":                                                           -1,
		"UPDATE reading SET value = x'00' WHERE at = 1772438406000002":                                                                               0,
		"UPDATE channel SET quantity = 'wetness'":                                                                                                    1,
		"INSERT INTO channel VALUES (99, 'x', 'ratio'); UPDATE reading SET channel = 99 WHERE at = 1772438406000002":                                 0,
		"UPDATE reading SET channel = 98 WHERE at = 1772438406000002":                                                                                0,
		"UPDATE reading SET resolution = -0.0, range = 1 WHERE at = 1772438406000002":                                                                0,
		"UPDATE reading SET measured = 0 WHERE at = 1772438406000002":                                                                                0,
		"UPDATE reading SET half_width = 0 WHERE at = 1772438406000002":                                                                              0,
		"UPDATE reading SET ordinal = 0 WHERE at = 1772438406000002":                                                                                 0,
		"UPDATE item SET kind = 'gap' WHERE at = 1772438406000005":                                                                                   0,
		"INSERT INTO reading SELECT 0, at, channel, value, text, resolution, range, flags, measured, half_width, ordinal FROM reading WHERE seq = 1": -1,
	} {
		err := tampered(t, content, statement)
		var broken *BrokenError
		if !errors.As(err, &broken) || !errors.Is(err, ErrBroken) {
			t.Errorf("%s\n\tnot found: %v", statement, err)
			continue
		}
		if commit == 1 && broken.Commit != 1 {
			t.Errorf("%s\n\tfound in commit %d, not 1", statement, broken.Commit)
		}
		if commit == 0 && (broken.From > t0+6*second || broken.To < t0+6*second) {
			t.Errorf("%s\n\tplaced between %s and %s", statement, broken.From, broken.To)
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
	rows, err := j.r.rows(ctx, 1, 3)
	if err != nil {
		t.Fatal(err)
	}
	le := binary.LittleEndian
	i64 := func(v int64) []byte { return le.AppendUint64(nil, uint64(v)) }
	f64 := func(v float64) []byte { return le.AppendUint64(nil, math.Float64bits(v)) }
	str := func(s string) []byte { return append(le.AppendUint32(nil, uint32(len(s))), s...) }
	rec := func(kind byte, parts ...[]byte) []byte {
		body := bytes.Join(parts, nil)
		return append(append([]byte{kind}, le.AppendUint32(nil, uint32(len(body)))...), body...)
	}
	var records []byte
	records = append(records, rec(1, i64(1), i64(int64(t0)), str("dmm/volts"), str("dc_voltage"), f64(math.Copysign(0, -1)), str("-0.000"),
		f64(1e-3), f64(0), le.AppendUint32(nil, 256|4096), i64(77), i64(5), i64(3))...)
	records = append(records, rec(2, i64(2), i64(int64(t0+1)), str("act"), str(rows[1].body))...)
	records = append(records, rec(3, i64(3), i64(int64(t0+1)), str(rows[2].body))...)
	// The writer may have sealed the three in one commit or more: follow its
	// boundaries.
	want := make([]byte, 32)
	err = j.r.seals(ctx, 1, 99, func(s seal, _ hash) error {
		var c []byte
		c = append(append(append(append(c, i64(s.n)...), i64(s.first)...), i64(s.last)...), i64(int64(s.upto))...)
		for n := s.first; n <= s.last; n++ {
			size := 5 + int(le.Uint32(records[1:]))
			c = append(c, records[:size]...)
			records = records[size:]
		}
		h := sha256.New()
		h.Write([]byte{0})
		h.Write(want)
		h.Write(i64(int64(len(c))))
		h.Write(c)
		want = h.Sum(nil)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if head := verify(t, j); head.Hash != hex.EncodeToString(want) || head.Count != 3 {
		t.Errorf("head %+v, want %x", head, want)
	}
	if empty, err := create(t, workspace(t, quick), "empty").Head(ctx); err != nil || empty.Count != 0 || empty.Last != 0 || empty.Hash != hex.EncodeToString(make([]byte, 32)) {
		t.Errorf("empty job: %+v %v", empty, err)
	}
}
