package store

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
)

// makeCorpusEnv, set to a folder, makes TestCorpus write the files of the
// present format there instead of reading those of every format. Files of a
// format that has been in use are never made again.
const makeCorpusEnv = "STEADYRAIL_MAKE_CORPUS"

// corpusRecords is a job with everything in it that a file can hold.
func corpusRecords() (recs []capture.Record, then func(*Job)) {
	say := func(at capture.Instant, item capture.Item) {
		recs = append(recs, capture.Record{At: at, Job: "AB-0147", Item: item})
	}
	rails, err := capture.ParseRails("+5V 2%, -12V 5%")
	if err != nil {
		panic(err)
	}
	say(t0+1, capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88", Board: "power", Rails: rails})
	say(t0+2, capture.Act{Verb: capture.ActOpen})
	say(t0+3, capture.RuleSet{Engine: "1", Rules: []capture.Rule{{}}})
	say(t0+4, capture.Placement{Channel: "dmm/volts", Rail: rails[0].Name, Hold: capture.Clipped})
	odd := []float64{math.Copysign(0, -1), math.Inf(1), math.NaN(), math.SmallestNonzeroFloat64, math.MaxFloat64, 0.1 + 0.2}
	n := map[capture.ChannelID]uint64{}
	reading := func(at capture.Instant, r capture.Reading) {
		n[r.Channel]++
		r.Ordinal, r.Measured, r.HalfWidth = n[r.Channel], at-12_345, 1500*time.Nanosecond
		say(at, r)
	}
	for i := range 4800 { // a full block, and more commits than the tail holds
		at := t0 + capture.Instant(i)*100_000 + 7
		v := 5.012 + float64(i%17-8)*1e-4
		text := fmt.Sprintf("%+.5E", v)
		v, _, _, err := capture.ParseResponse(text)
		if err != nil {
			panic(err)
		}
		reading(at, capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Text: text, Resolution: 1e-5, Range: 10})
		switch {
		case i%40 == 3:
			reading(at+1, capture.Reading{Channel: "psu/amps", Quantity: capture.DCCurrent, Flags: capture.TimedOut})
		case i%40 == 7:
			reading(at+1, capture.Reading{Channel: "sum/watts", Quantity: capture.Power, Value: odd[i/40%len(odd)]})
		case i%3 == 0:
			reading(at+1, capture.Reading{Channel: "psu/amps", Quantity: capture.DCCurrent, Value: 0.25, Text: "0.250", Resolution: 1e-3})
		}
		if i == 120 {
			say(at+2, capture.Act{Verb: capture.ActNote, Text: "blade lifted, \"+5 V\" touched – warm"})
			say(at+3, capture.Gap{From: at, To: at + 2, Reason: "for the corpus"})
		}
	}
	return recs, func(j *Job) {
		last := recs[len(recs)-1].At
		j.Transition(capture.Transition{At: last, Alarm: "a", Value: math.Inf(-1), Limit: math.NaN()})
	}
}

// listed writes a job's records for comparison, one a line, exact to the bit.
func listed(t testing.TB, j *Job) []byte {
	t.Helper()
	var b bytes.Buffer
	line := func(v any) {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		b.Write(append(text, '\n'))
	}
	for _, rec := range all(t, j, 0, 0) {
		if r, ok := rec.Item.(capture.Reading); ok {
			line([]any{rec.At, r.Channel, r.Quantity, fmt.Sprintf("%016x", math.Float64bits(r.Value)), r.Text,
				fmt.Sprintf("%016x", math.Float64bits(r.Resolution)), fmt.Sprintf("%016x", math.Float64bits(r.Range)), r.Flags, r.Measured, r.HalfWidth, r.Ordinal})
			continue
		}
		kind, body, err := encodeItem(rec.Item)
		if err != nil {
			t.Fatal(err)
		}
		line([]any{rec.At, kind, body})
	}
	steps, err := j.Transitions(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		body, err := encodeTransition(&s)
		if err != nil {
			t.Fatal(err)
		}
		line([]any{"transition", s.At, body})
	}
	line(verify(t, j))
	return b.Bytes()
}

// TestCorpus opens a small file of every format that has been in use, closed in
// order and left by a crash, and finds the same records and the same head.
func TestCorpus(t *testing.T) {
	if dir := os.Getenv(makeCorpusEnv); dir != "" {
		makeCorpus(t, dir)
		return
	}
	folders, err := filepath.Glob("testdata/format*")
	if err != nil || len(folders) == 0 {
		t.Fatal("no corpus", err)
	}
	for _, dir := range folders {
		for _, name := range []string{"closed", "crashed"} {
			t.Run(filepath.Base(dir)+"/"+name, func(t *testing.T) {
				packed, err := os.ReadFile(filepath.Join(dir, "records.jsonl.gz"))
				if err != nil {
					t.Fatal(err)
				}
				want := unpacked(t, packed)
				w := workspace(t, quick)
				path, err := w.Path("AB-0147")
				if err != nil {
					t.Fatal(err)
				}
				for _, end := range []string{"", "-wal"} {
					if packed, err := os.ReadFile(filepath.Join(dir, name+Extension+end+".gz")); err == nil {
						write(t, path+end, unpacked(t, packed))
					}
				}
				j, err := w.Open("AB-0147", t0+1000*second)
				if err != nil {
					t.Fatal(err)
				}
				closeJob(t, j)
				back, err := OpenFile(path)
				if err != nil {
					t.Fatal(err)
				}
				defer back.Close(ctx)
				got := bytes.Split(listed(t, back), []byte("\n"))
				lines := bytes.Split(want, []byte("\n"))
				// Behind them stands the gap since then, and the head has moved on.
				for i, line := range lines[:len(lines)-3] {
					if !bytes.Equal(got[i], line) {
						t.Fatalf("line %d\n got %s\nwant %s", i+1, got[i], line)
					}
				}
				if _, err := back.Enclosures(ctx); err != nil {
					t.Error(err)
				}
				var head capture.Head
				if err := json.Unmarshal(lines[len(lines)-2], &head); err != nil {
					t.Fatal(err)
				}
				if found, err := back.Heads(ctx, head.Hash); err != nil || found.Known[head.Hash].Head != head {
					t.Errorf("the head of then: %+v %v, want %+v", found, err, head)
				}
			})
		}
	}
}

func makeCorpus(t *testing.T, dir string) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	recs, then := corpusRecords()
	for i, rec := range recs {
		j.Consume(rec)
		if i%10 == 9 && (i < 5500 || i%50 == 9) { // later ones have several runs of records
			settle(t, j)
		}
	}
	then(j)
	enclose(t, j, recs[len(recs)-1].At+1, "a picture for the corpus")
	content := func(path string) []byte {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	for _, end := range []string{"", "-wal"} {
		pack(t, filepath.Join(dir, "crashed"+Extension+end+".gz"), content(j.Path()+end))
	}
	closeJob(t, j)
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	pack(t, filepath.Join(dir, "closed"+Extension+".gz"), content(j.Path()))
	pack(t, filepath.Join(dir, "records.jsonl.gz"), listed(t, back))
}

func pack(t *testing.T, to string, content []byte) {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if _, err := z.Write(content); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	write(t, to, b.Bytes())
}

func unpacked(t *testing.T, packed []byte) []byte {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	content, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func write(t *testing.T, path string, content []byte) {
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

// oldJob puts the closed job of format 1 into a workspace.
func oldJob(t *testing.T) (w *Workspace, path string) {
	t.Helper()
	packed, err := os.ReadFile("testdata/format1/closed" + Extension + ".gz")
	if err != nil {
		t.Fatal(err)
	}
	w = workspace(t, quick)
	if path, err = w.Path("AB-0147"); err != nil {
		t.Fatal(err)
	}
	write(t, path, unpacked(t, packed))
	return w, path
}
