package store

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestDurabilitySettingsTookEffect(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	for pragma, want := range map[string]string{"page_size": "4096", "journal_mode": "wal", "synchronous": "2", "application_id": "1397899596", "user_version": "4", "encoding": "UTF-8"} {
		var got string
		if err := j.w.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %s (%v), want %s", pragma, got, err, want)
		}
	}
	// In the file itself: the page size is a big-endian 16-bit number at
	// offset 16 of the header (sqlite.org/fileformat2.html, 1.3), the
	// application id a 32-bit number at offset 68.
	head, err := os.ReadFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	if size := int(head[16])<<8 | int(head[17]); size != 4096 {
		t.Errorf("page size in the file is %d", size)
	}
	if mark := string(head[68:72]); mark != "SRAL" {
		t.Errorf("mark in the file is %q", mark)
	}
}

func TestEveryKindOfRecordComesBack(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	rail := capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: math.Inf(1)}, ShortBelow: 5}
	items := []capture.Item{
		capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88", Symptom: `dead, "clicks" <b>`, Rails: []capture.Rail{rail}},
		capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Identity: capture.Identity{Serial: "00123457"},
			Channels: []capture.ChannelInfo{{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond}}}}},
		capture.RuleSet{Engine: "1", Rules: []capture.Rule{{Name: "band +5 V logic", Kind: "band", Rail: "+5 V logic", Severity: capture.Urgent, OnDelay: time.Second}}},
		capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic", Point: "TP5", Hold: capture.Clipped},
		volts(0, "dmm/volts", 5.012).Item,
		capture.Act{Verb: capture.ActNull, Value: 0.21, By: "M"},
		capture.Act{Verb: capture.ActNote, Text: "Ω \x00 ± line\nbreak", Value: math.Inf(-1)},
		capture.Placement{Channel: "dmm/volts", Rail: "+12 V audio", Corrects: t0 + 3, Why: "wrong clip"},
		capture.Gap{From: t0, To: t0 + 5, Reason: "computer slept", Dropped: 7},
	}
	var want []capture.Record
	for i, it := range items {
		want = append(want, capture.Record{At: t0 + capture.Instant(i), Job: "AB-0147", Item: it})
		j.Consume(want[i])
	}
	j.Consume(capture.Record{At: t0 + 100, Job: "OTHER", Item: items[0]}) // not of this job
	settle(t, j)
	wantSame(t, all(t, j, 0, 0), want)
	if head := verify(t, j); head.Count != uint64(len(items)) || head.Last != t0+8 {
		t.Errorf("head %+v", head)
	}
}

func TestTransitionsStandBehindTheirRecord(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(volts(t0, "dmm/volts", 3.087))
	want := capture.Transition{At: t0, Alarm: "collapse@1", Rule: "collapse", Rail: "+5 V logic", Severity: capture.Urgent, To: capture.Active,
		Value: 3.087, Limit: math.Inf(1), Evidence: []capture.Instant{t0}, Say: "collapsed"}
	j.Transition(want)
	j.Consume(volts(t0+1, "dmm/volts", 5))
	settle(t, j)
	got, err := j.Transitions(ctx)
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Fatalf("got %+v (%v)\nwant %+v", got, err, want)
	}
	if rows := rowsOf(t, j); len(rows) != 3 || rows[1].kind != kindTransition {
		t.Errorf("rows %+v: the transition must be the second", rows)
	}
	if n := len(all(t, j, 0, 0)); n != 2 {
		t.Errorf("%d records, want 2: transitions are not among them", n)
	}
}

// An alarm does not wait for the second to be over.
func TestTransitionIsCommittedAtOnce(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147") // a tick comes after an hour
	j.Consume(volts(t0, "dmm/volts", 3))
	j.Transition(capture.Transition{At: t0, Alarm: "a"})
	limit := time.After(10 * time.Second)
	for {
		j.w.mu.Lock()
		changed := j.w.changed
		j.w.mu.Unlock()
		if j.Stats().Written == 2 {
			return
		}
		select {
		case <-changed:
		case <-limit:
			t.Fatal("not committed")
		}
	}
}

func TestRecordsBetweenInstants(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	var want []capture.Record
	for i := range 50 {
		for k := range 7 {
			want = append(want, volts(t0+capture.Instant(i*1000+k*20), "dmm/volts", float64(i)))
			j.Consume(want[len(want)-1])
		}
		settle(t, j)
	}
	for _, c := range []struct{ from, to capture.Instant }{{0, 0}, {t0, 0}, {t0 + 1, t0 + 2}, {t0 + 20, t0 + 21}, {t0 + 5000, t0 + 9121}, {t0 + 49_120, 0}, {t0 + 49_121, 0}, {1, t0}} {
		var part []capture.Record
		for _, r := range want {
			if r.At >= c.from && (c.to == 0 || r.At < c.to) {
				part = append(part, r)
			}
		}
		wantSame(t, all(t, j, c.from, c.to), part)
	}
}

func TestRecordsCanBeStopped(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	for i := range 24_000 {
		j.Consume(volts(t0+capture.Instant(i), "dmm/volts", 5))
	}
	settle(t, j)
	stop, cancel := context.WithCancel(ctx)
	n := 0
	err := j.Records(stop, 0, 0, func(capture.Record) error { n++; cancel(); return nil })
	if !errors.Is(err, context.Canceled) || n > 1024 {
		t.Errorf("%v after %d records", err, n)
	}
	enough := errors.New("enough")
	if err := j.Records(ctx, 0, 0, func(capture.Record) error { return enough }); !errors.Is(err, enough) {
		t.Errorf("got %v, want the error of yield", err)
	}
}

// A yield that takes its time must not hold a transaction: the log can be
// checkpointed whole meanwhile.
func TestReadingDoesNotHoldCheckpointsBack(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	for i := range 16_000 {
		j.Consume(volts(t0+capture.Instant(i), "dmm/volts", 5))
	}
	settle(t, j)
	n := 0
	err := j.Records(ctx, 0, 0, func(capture.Record) error {
		if n++; n > 1 {
			return nil
		}
		var busy, log, moved int
		if err := j.w.db.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &log, &moved); err != nil {
			return err
		}
		if busy != 0 {
			t.Errorf("the checkpoint is held back: busy %d, log %d, moved %d", busy, log, moved)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestAnyRecordsComeBackInOrderAndToTheBit(t *testing.T) {
	w := workspace(t, quick)
	floats := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{
		math.Copysign(0, -1), 0, math.SmallestNonzeroFloat64, -math.MaxFloat64, math.MaxFloat64, math.Inf(1), math.Inf(-1),
		math.NaN(), math.Float64frombits(0x7ff8dead00000001), 1 << 60, 5, 5.012, 1e-300, 0.1 + 0.2}))
	reading := rapid.Custom(func(t *rapid.T) capture.Item {
		return capture.Reading{
			Channel:  capture.ChannelID(rapid.SampledFrom([]string{"dmm/volts", "dmm/ohms", "", "x/\x00y", "böse/Ω"}).Draw(t, "channel")),
			Quantity: capture.Quantity(rapid.IntRange(0, int(capture.Ratio)).Draw(t, "quantity")),
			Value:    floats.Draw(t, "value"), Resolution: floats.Draw(t, "resolution"), Range: floats.Draw(t, "range"),
			Text:  string(rapid.SliceOf(rapid.Byte()).Draw(t, "text")),
			Flags: capture.Flags(rapid.Uint16().Draw(t, "flags")), Measured: capture.Instant(rapid.Int64().Draw(t, "measured")),
			HalfWidth: time.Duration(rapid.Int64().Draw(t, "half")), Ordinal: rapid.Uint64().Draw(t, "ordinal"),
		}
	})
	other := rapid.Custom(func(t *rapid.T) capture.Item {
		text := rapid.String().Draw(t, "text")
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			v := floats.Filter(func(v float64) bool { return v == v }).Draw(t, "value")
			return capture.Act{Verb: capture.ActNote, Text: text, Value: v}
		case 1:
			return capture.Placement{Channel: "dmm/volts", Rail: text, Hold: capture.Clipped}
		}
		return capture.Gap{From: 1, To: 2, Reason: text}
	})
	// One file takes the records of every check, one behind the other.
	j := create(t, w, "AB-0147")
	at := t0
	rapid.Check(t, func(t *rapid.T) {
		at++
		from := at
		var want []capture.Record
		for _, it := range rapid.SliceOfN(rapid.OneOf(reading, reading, other), 1, 90).Draw(t, "items") {
			at += capture.Instant(rapid.SampledFrom([]int64{0, 1, 200_000, 7_000_000}).Draw(t, "step"))
			want = append(want, capture.Record{At: at, Job: "AB-0147", Item: it})
			j.Consume(want[len(want)-1])
			if rapid.IntRange(0, 19).Draw(t, "sync") == 0 {
				if err := j.Sync(ctx); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := j.Sync(ctx); err != nil {
			t.Fatal(err)
		}
		var got []capture.Record
		if err := j.Records(ctx, from, 0, func(r capture.Record) error { got = append(got, r); return nil }); err != nil {
			t.Fatal(err)
		}
		wantSame(t, got, want)
	})
	closeJob(t, j)
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	if head := verify(t, back); head.Last != at {
		t.Errorf("head %+v, want the last at %d", head, at)
	}
}

func TestLastValues(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	want := []capture.Record{volts(t0, "old/volts", 1), volts(t0+60e6, "a/volts", 2), volts(t0+60e6+1, "b/volts", 3)}
	j.Consume(want[0])
	j.Consume(volts(t0+1, "a/volts", 9))
	j.Consume(want[1])
	j.Consume(want[2])
	settle(t, j)
	got, err := j.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	wantSame(t, got, want)
}

func TestOutOfOrderIsRefusedAndCounted(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(volts(t0+5, "dmm/volts", 5))
	j.Consume(volts(t0+4, "dmm/volts", 4))
	j.Consume(volts(t0+5, "dmm/volts", 6)) // equal times are legal
	settle(t, j)
	if s := j.Stats(); s.Refused != 1 || s.Written != 2 || s.Queued != 0 || s.Bytes == 0 {
		t.Errorf("stats %+v", s)
	}
}

func TestWhatCannotBeWrittenDownLeavesAGap(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(capture.Record{At: t0, Job: "AB-0147", Item: capture.Sheet{Rails: []capture.Rail{{Nominal: math.NaN()}}}})
	settle(t, j)
	got := all(t, j, 0, 0)
	if gap, ok := got[0].Item.(capture.Gap); !ok || !strings.Contains(gap.Reason, "could not be written down") {
		t.Errorf("got %+v", got)
	}
}

func TestOpenFileRefusals(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	j := create(t, workspace(t, quick), "AB-0147")
	if _, err := j.w.db.Exec("PRAGMA user_version = 7"); err != nil {
		t.Fatal(err)
	}
	packed, err := os.ReadFile("testdata/format2/closed" + Extension + ".gz")
	if err != nil {
		t.Fatal(err)
	}
	whole := unpacked(t, packed)
	cut := string(whole[:len(whole)/2])
	for path, want := range map[string]error{
		filepath.Join(dir, "nothing"):              os.ErrNotExist,
		write("empty", ""):                         ErrNotOurs,
		write("text", strings.Repeat("text ", 99)): ErrNotOurs,
		write("cut", cut):                          ErrDamaged,
		j.Path():                                   ErrNewer,
	} {
		if _, err := OpenFile(path); !errors.Is(err, want) {
			t.Errorf("%s: got %v, want %v", path, err, want)
		} else if want == ErrNewer && !strings.Contains(err.Error(), "format 7") {
			t.Errorf("%v: does not say which format it needs", err)
		}
	}
}

// A closed job becomes one compact file, which can be read, verified, copied
// and opened again to go on.
func TestClosingMakesOneCompactFile(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	m := newMixed()
	var want []capture.Record
	for i := range 20_000 {
		want = append(want, m.next())
		j.Consume(want[i])
		if i%40 == 39 {
			settle(t, j)
		}
	}
	at := want[len(want)-1].At
	want = append(want, act(at+1, capture.ActClose))
	j.Consume(want[len(want)-1])
	settle(t, j)
	before := verify(t, j)
	closeJob(t, j)
	files, err := filepath.Glob(j.Path() + "*")
	if err != nil || len(files) != 1 {
		t.Errorf("%v %v, want one file", files, err)
	}
	size := sizeOf(j.Path())
	if limit := int64(20_000*4 + 80_000); size > limit { // each table takes a page, used or not
		t.Errorf("%d bytes, at most %d should do", size, limit)
	}
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	if head := verify(t, back); head != before {
		t.Errorf("head %+v behind %+v", head, before)
	}
	wantSame(t, all(t, back, 0, 0), want)
	copied := filepath.Join(t.TempDir(), "copy"+Extension)
	if err := back.Backup(ctx, copied); err != nil {
		t.Fatal(err)
	}
	if err := back.Backup(ctx, copied); err == nil {
		t.Error("a backup over a file that exists")
	}
	closeJob(t, back)
	if back, err = OpenFile(copied); err != nil {
		t.Fatal(err)
	}
	wantSame(t, all(t, back, 0, 0), want)
	closeJob(t, back)
	if j, err = w.Open("AB-0147", at+10*second); err != nil {
		t.Fatal(err)
	}
	for range 1000 {
		rec := m.next()
		rec.At += 20 * second
		want = append(want, rec)
		j.Consume(rec)
	}
	settle(t, j)
	running := filepath.Join(t.TempDir(), "running"+Extension)
	if err := j.Backup(ctx, running); err != nil {
		t.Fatal(err)
	}
	wantSame(t, all(t, j, 0, 0), want)
	verify(t, j)
	closeJob(t, j)
	if back, err = OpenFile(running); err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	wantSame(t, all(t, back, 0, 0), want)
	verify(t, back)
}

// A closed file alone, in a folder that cannot be written, can be read.
func TestClosedFileIsWholeByItself(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(volts(t0, "dmm/volts", 5))
	closeJob(t, j)
	if fileExists(j.Path() + "-wal") {
		t.Error("a write-ahead log was left behind")
	}
	content, err := os.ReadFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "a?b#c%41 d")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "handed over.steadyrail")
	if err := os.WriteFile(path, content, 0o400); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o700)
	back, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close(ctx)
	if got := all(t, back, 0, 0); back.ID() != "AB-0147" || len(got) != 1 || !back.LeftInOrder() {
		t.Errorf("job %s with %d records, left in order: %v", back.ID(), len(got), back.LeftInOrder())
	}
	if err := back.Sync(ctx); !errors.Is(err, ErrReadOnly) {
		t.Errorf("Sync: %v", err)
	}
	back.Consume(volts(t0+1, "dmm/volts", 5)) // does nothing
}

func TestTheFileExplainsItself(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	j.Consume(volts(t0, "dmm/volts", 5.012))
	settle(t, j)
	var text, answered string
	if err := j.r.db.QueryRow("SELECT text FROM spec").Scan(&text); err != nil || !strings.Contains(text, "SHA-256") {
		t.Errorf("spec: %v", err)
	}
	j.Transition(capture.Transition{At: t0, Alarm: "a"})
	settle(t, j)
	if err := j.r.db.QueryRow("SELECT changed FROM alarms").Scan(&answered); err != nil || answered != "2026-03-02T08:00:00.000000Z" {
		t.Errorf("view: %q %v", answered, err)
	}
	tables, err := j.r.db.Query("SELECT name FROM sqlite_schema WHERE type = 'table'")
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	for tables.Next() {
		var name string
		if err := tables.Scan(&name); err != nil {
			t.Fatal(err)
		}
		if name != "spec" && !strings.Contains(text, name) {
			t.Errorf("spec does not tell of table %s", name)
		}
	}
}

func FuzzDecodeItem(f *testing.F) {
	for _, kind := range []string{"sheet", "roster", "rules", "placement", "act", "gap", "other"} {
		f.Add(kind, `{"at":1,"rails":[{"name":"+5 V","bounds":{"low":null}}],"value":"NaN","hold":"clipped"}`)
	}
	f.Fuzz(func(t *testing.T, kind, body string) {
		item, err := decodeItem(kind, body)
		if err != nil {
			return
		}
		k, text, err := encodeItem(item)
		if err != nil || k != kind {
			t.Fatalf("%T was read but cannot be written: %v", item, err)
		}
		again, err := decodeItem(k, text)
		if err != nil {
			t.Fatal(err)
		}
		if _, twice, _ := encodeItem(again); twice != text {
			t.Fatalf("%s\nand then\n%s", text, twice)
		}
	})
}
