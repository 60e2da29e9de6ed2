package store

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/capture/store/merkle"
)

func opened(t testing.TB, path string) *Job {
	t.Helper()
	j, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closeJob(t, j) })
	return j
}

func prove(t testing.TB, j *Job, seq int64, head string) Proof {
	t.Helper()
	p, err := j.Prove(ctx, seq, head)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Every kind of record is proved against the newest head and against an earlier
// one, while the job is written, and says what is in the file.
func TestProveEachRecord(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	var early capture.Head
	for i := range 7 {
		j.Consume(volts(t0+capture.Instant(i)*10, "dmm/volts", float64(i)))
		j.Consume(act(t0+capture.Instant(i)*10+1, capture.ActNote))
		j.Transition(capture.Transition{At: t0 + capture.Instant(i)*10 + 1, Alarm: "a"})
		settle(t, j)
		if i == 3 {
			early = verify(t, j)
		}
	}
	newest := verify(t, j)
	for i, r := range rowsOf(t, j) {
		for _, head := range []capture.Head{newest, early} {
			if i >= int(head.Count) {
				if _, err := j.Prove(ctx, r.seq, head.Hash); err == nil {
					t.Errorf("record %d was proved to belong to a head of %d records", r.seq, head.Count)
				}
				continue
			}
			text, err := json.Marshal(prove(t, j, r.seq, head.Hash))
			if err != nil {
				t.Fatal(err)
			}
			p, err := ParseProof(text)
			if err != nil {
				t.Fatal(err)
			}
			got, err := CheckProof(p, head.Hash)
			if err != nil {
				t.Fatal(err)
			}
			want := Proved{Head: head.Hash, Count: int64(head.Count), Upto: got.Upto, Commit: got.Commit, Seq: r.seq, At: r.at,
				Kind: kindName[r.kind], Reading: r.reading, Name: r.name, Body: r.body}
			if got != want || got.Upto < head.Last {
				t.Errorf("record %d\n got %+v\nwant %+v", r.seq, got, want)
			}
		}
	}
	if p := prove(t, j, 1, ""); p.Last != int64(newest.Count) {
		t.Errorf("without a head it was proved against %d records", p.Last)
	}
	for _, seq := range []int64{-1, 0, int64(newest.Count) + 1} {
		if _, err := j.Prove(ctx, seq, ""); err == nil {
			t.Errorf("there is no record %d", seq)
		}
	}
	if _, err := j.Prove(ctx, 1, hex.EncodeToString(make([]byte, 32))); !errors.Is(err, ErrNoHead) {
		t.Errorf("unknown head: %v", err)
	}
}

// In a compacted file with folded commits, whose newest hash but one is not kept.
func TestProveInBlocks(t *testing.T) {
	path, recs := longJob(t)
	j := opened(t, path)
	head := verify(t, j)
	for _, seq := range []int64{1, 2, 1024, 13_579, int64(len(recs))} {
		got, err := CheckProof(prove(t, j, seq, ""), head.Hash)
		if err != nil {
			t.Fatal(err)
		}
		if got.At != recs[seq-1].At || got.Kind == "reading" && !same(capture.Record{At: got.At, Job: "AB-0147", Item: got.Reading}, recs[seq-1]) {
			t.Errorf("record %d: %+v", seq, got)
		}
	}
}

func TestABrokenFileProvesNothing(t *testing.T) {
	content := tenCommits(t)
	path := t.TempDir() + "/AB-0147" + Extension
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	j := opened(t, path)
	early := heads(t, j)[2]
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("UPDATE item SET body = replace(body, 'note', 'Note') WHERE at = 1772438406000005"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	var broken *BrokenError
	if _, err := j.Prove(ctx, 1, ""); !errors.As(err, &broken) {
		t.Errorf("a broken file: %v", err)
	}
	if _, err := CheckProof(prove(t, j, 1, early.Hash), early.Hash); err != nil {
		t.Errorf("against a head from before the damage: %v", err)
	}
}

// A commit that says it begins elsewhere proves nothing of any record, and ends
// no program.
func TestAMovedCommitProvesNothing(t *testing.T) {
	for _, statement := range []string{"UPDATE tail SET first = first - 1 WHERE n = 3", "UPDATE tail SET first = first + 1 WHERE n = 3"} {
		path := t.TempDir() + "/AB-0147" + Extension
		if err := os.WriteFile(path, tenCommits(t), 0o600); err != nil {
			t.Fatal(err)
		}
		db, err := openWriter(ctx, path, jobKind)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
		db.Close()
		j := opened(t, path)
		snap, err := j.r.now(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for seq := int64(1); seq <= snap.newest.last; seq++ {
			var broken *BrokenError
			if _, err := j.Prove(ctx, seq, ""); !errors.As(err, &broken) {
				t.Errorf("%s: record %d: %v", statement, seq, err)
			}
		}
	}
}

// No field of a proof can be changed in any bit: with the head it is refused.
func TestATamperedProofIsRefused(t *testing.T) {
	path, _ := longJob(t)
	j := opened(t, path)
	head := verify(t, j)
	proofs := []Proof{prove(t, j, 4711, ""), prove(t, j, 4712, ""), prove(t, j, 1, ""), prove(t, j, int64(head.Count), "")}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(proofs).Draw(t, "proof")
		p.Before, p.After = bytes.Clone(p.Before), bytes.Clone(p.After)
		p.Record, p.Root, p.Previous, p.Path = bytes.Clone(p.Record), bytes.Clone(p.Root), bytes.Clone(p.Previous), slices.Clone(p.Path)
		flip := func(b Hex) {
			b[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		}
		bit := func(v *int64) { *v ^= 1 << rapid.IntRange(0, 63).Draw(t, "bit") }
		what := rapid.SampledFrom([]string{"record", "root", "previous", "path", "shorter", "longer", "swapped", "commit", "first", "last", "upto", "index", "before", "after", "border", "leaves", "rule", "form"}).Draw(t, "what")
		switch i := rapid.IntRange(0, len(p.Path)-1).Draw(t, "step"); what {
		case "record":
			flip(p.Record)
		case "root":
			flip(p.Root)
		case "previous":
			flip(p.Previous)
		case "path":
			p.Path[i] = bytes.Clone(p.Path[i])
			flip(p.Path[i])
		case "shorter":
			p.Path = slices.Delete(p.Path, i, i+1)
		case "longer":
			p.Path = slices.Insert(p.Path, i, p.Path[0])
		case "swapped":
			k := (i + 1) % len(p.Path)
			p.Path[i], p.Path[k] = p.Path[k], p.Path[i]
		case "commit":
			bit(&p.Commit)
		case "first":
			bit(&p.First)
		case "last":
			bit(&p.Last)
		case "upto":
			bit((*int64)(&p.Upto))
		case "index":
			p.Index ^= 1 << rapid.IntRange(0, 63).Draw(t, "bit")
		case "leaves":
			p.Leaves ^= 1 << rapid.IntRange(0, 63).Draw(t, "bit")
		case "rule":
			p.Rule = rapid.SampledFrom([]int{0, 1, 2, 4, 259}).Draw(t, "rule")
		case "form":
			p.Form = proofForm1
		case "before":
			if p.Before = append(p.Before, 0); len(p.Before) > 1 {
				p.Before = p.Before[:len(p.Before)-1]
				flip(p.Before)
			}
		case "after":
			if p.After = append(p.After, 0); len(p.After) > 1 {
				p.After = p.After[:len(p.After)-1]
				flip(p.After)
			}
		case "border": // within the record
			k := rapid.IntRange(1, len(p.Record)-1).Draw(t, "byte")
			p.Before, p.Record = slices.Concat(p.Before, p.Record[:k]), p.Record[k:]
		}
		if _, err := CheckProof(p, head.Hash); !errors.Is(err, ErrProof) {
			t.Fatalf("%s changed: %v", what, err)
		}
	})
	if _, err := CheckProof(proofs[0], hex.EncodeToString(make([]byte, 32))); !errors.Is(err, ErrProof) {
		t.Errorf("another head: %v", err)
	}
}

// What an instrument sent can be anything, also the bytes of a record. In a run
// they prove nothing.
func TestATextIsNoRecord(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	var forged canon
	forged.reading(2, t0+1, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Text: "5.000"})
	for i := range capture.Instant(3) {
		rec := volts(t0+i, "dmm/volts", 4)
		if r := rec.Item.(capture.Reading); i == 1 {
			r.Text = string(forged.buf)
			rec.Item = r
		}
		j.Consume(rec)
	}
	settle(t, j)
	p := prove(t, j, 2, "")
	at := bytes.Index(p.Record, forged.buf)
	if at < 0 {
		t.Fatal("the record does not have its text")
	}
	p.Before, p.Record, p.After = slices.Concat(p.Before, p.Record[:at]), p.Record[at:at+len(forged.buf)], slices.Concat(p.Record[at+len(forged.buf):], p.After)
	if got, err := CheckProof(p, ""); !errors.Is(err, ErrProof) {
		t.Errorf("proved %+v %v", got, err)
	}
}

// A record's number is one of those that the head covers, whatever a forged chain
// says.
func TestAProofIsOfARecordThatThereCanBe(t *testing.T) {
	for seq, holds := range map[int64]bool{-5: false, 0: false, 1: false, 2: true, 3: true, 4: false} {
		var c canon
		c.reading(seq, t0, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Text: "5.000"})
		leaf := merkle.Leaf(c.buf)
		var tree merkle.Tree
		tree.Add(merkle.Hash{})
		tree.Add(leaf)
		root := tree.Root()
		p := Proof{Form: proofForm, Record: c.buf, Index: 1, Leaves: 2, Path: []Hex{make(Hex, 32)}, Root: root[:], Previous: make(Hex, 32),
			Rule: ruleRuns, Commit: 2, First: 2, Last: 3, Upto: t0}
		if got, err := CheckProof(p, ""); (err == nil) != holds || !holds && !errors.Is(err, ErrProof) {
			t.Errorf("record %d: %+v %v", seq, got, err)
		}
	}
}

// Proofs that were handed out before runs came hold for ever; and the records of
// an older file are proved against heads of then and of now.
func TestProofsOfOlderFormats(t *testing.T) {
	text, err := os.ReadFile("testdata/format3/proof.json")
	if err != nil {
		t.Fatal(err)
	}
	old, err := ParseProof(text)
	if err != nil {
		t.Fatal(err)
	}
	packed, err := os.ReadFile("testdata/format3/closed" + Extension + ".gz")
	if err != nil {
		t.Fatal(err)
	}
	w := workspace(t, quick)
	path, err := w.Path("AB-0147")
	if err != nil {
		t.Fatal(err)
	}
	write(t, path, unpacked(t, packed))
	asItWas := opened(t, path)
	then := verify(t, asItWas)
	want, err := CheckProof(old, then.Hash)
	if err != nil || want.Seq != 4711 {
		t.Fatalf("the proof of then: %+v %v", want, err)
	}
	check := func(p Proof, head string) {
		t.Helper()
		if got, err := CheckProof(p, head); err != nil || got.At != want.At || got.Reading != want.Reading {
			t.Errorf("against %s: %+v %v", head, got, err)
		}
	}
	check(prove(t, asItWas, 4711, ""), then.Hash)
	j, err := w.Open("AB-0147", then.Last+second)
	if err != nil {
		t.Fatal(err)
	}
	for i := range capture.Instant(40) {
		j.Consume(volts(then.Last+2*second+i, "dmm/volts", 5))
	}
	settle(t, j)
	now := verify(t, j)
	check(prove(t, j, 4711, ""), now.Hash)
	check(prove(t, j, 4711, then.Hash), then.Hash)
	if got, err := CheckProof(prove(t, j, int64(now.Count), ""), now.Hash); err != nil || got.Reading.Value != 5 {
		t.Errorf("the newest: %+v %v", got, err)
	}
	closeJob(t, j)
}

func FuzzParseProof(f *testing.F) {
	j := create(f, workspace(f, quick), "AB-0147")
	for i := range capture.Instant(5) {
		j.Consume(volts(t0+i, "dmm/volts", 5.012))
	}
	settle(f, j)
	head := verify(f, j)
	text, err := json.Marshal(prove(f, j, 3, ""))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"form":"steadyrail proof 1","path":["zz"]}`))
	f.Add([]byte(`{"form":"steadyrail proof 2","before":"00","leaves":1}`))
	f.Add([]byte("{} {}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := ParseProof(text)
		var got Proved
		if err == nil {
			got, err = CheckProof(p, head.Hash)
		}
		if err != nil {
			if !errors.Is(err, ErrProof) {
				t.Error(err)
			}
			return
		}
		// Borders put elsewhere prove another of the run.
		if got.Seq < 1 || got.Seq > 5 || got.Reading.Value != 5.012 {
			t.Errorf("proved: %+v", got)
		}
	})
}

// FuzzCanonical: what is read is written as it was.
func FuzzCanonical(f *testing.F) {
	var c canon
	c.item(1, t0, "act", `{}`)
	f.Add(c.buf)
	c = canon{}
	c.transition(2, t0, `{}`)
	f.Add(c.buf)
	c = canon{}
	c.reading(3, t0, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: -5, Text: "-5.0"})
	f.Add(c.buf)
	f.Add(c.buf[:20])
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := parseCanonical(b)
		if err != nil {
			return
		}
		var again canon
		if r.canonical(&again); !bytes.Equal(again.buf, b) {
			t.Errorf("%x was written as %x", b, again.buf)
		}
	})
}

// BenchmarkProve reads 26,526 records beside what Verify takes for the same.
func BenchmarkProve(b *testing.B) {
	path, recs := longJob(b)
	j := opened(b, path)
	b.Run("prove", func(b *testing.B) {
		for b.Loop() {
			prove(b, j, int64(len(recs)/2), "")
		}
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			verify(b, j)
		}
	})
	p := prove(b, j, int64(len(recs)/2), "")
	b.Run("check", func(b *testing.B) {
		for b.Loop() {
			if _, err := CheckProof(p, ""); err != nil {
				b.Fatal(err)
			}
		}
	})
}
