package story

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// handsOn are hands on a bench that nobody serves.
func handsOn(t *testing.T) (*Hands, *sim.Clock) {
	clock := sim.NewClock(capture.InstantOf(time.Now()), 1)
	leash := NewLeash(clock)
	t.Cleanup(leash.end)
	return newHands(sim.NewBench(clock, 88, sim.Scenario{}), clock, leash), clock
}

// begun is a journal in a folder that is written.
func begun(t *testing.T, folder string) *journal {
	t.Helper()
	j, err := readJournal(folder)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.begin(); err != nil {
		t.Fatal(err)
	}
	return j
}

// What hands did is done again from the journal: parts, probes, leads, trimmer,
// and of faults what is left of them. A line that a kill tore off is nothing.
func TestHandsAreRestored(t *testing.T) {
	folder := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		h, _ := handsOn(t)
		j := begun(t, folder)
		h.journal = j
		if err := j.note(journalLine{Job: "AB-0147", Stand: h.bench.Standing()}); err != nil {
			t.Fatal(err)
		}
		for _, do := range []string{
			"part PS2 out", "probe dmm PS2 pin out clip", "turn 5", "turn -0.5", "part stand-in in", "feed board", "speed 60", "speed 1",
			"fault short +5 V 3.3", "fault input joint 1.8s", "probe dmm2 TP12",
		} {
			if _, err := h.Do(strings.Fields(do)); err != nil {
				t.Fatalf("%s: %v", do, err)
			}
			time.Sleep(10 * time.Second)
		}
		before := h.Look()
		rail, _ := h.bench.TruthOhms(sim.Point5)
		if err := j.end(); err != nil {
			t.Fatal(err)
		}
		f, err := os.OpenFile(j.path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteString(`{"at":"2031-03-12T10:00:00Z","do":["part","CN`); err != nil {
			t.Fatal(err)
		}
		f.Close()

		again, clock := handsOn(t)
		j = begun(t, folder)
		if err := again.restore(j, clock); err != nil {
			t.Fatal(err)
		}
		if after := again.Look(); !reflect.DeepEqual(before, after) {
			t.Errorf("before %+v\nafter  %+v", before, after)
		}
		if ohms, _ := again.bench.TruthOhms(sim.Point5); ohms != rail || ohms > 3.4 {
			t.Errorf("the short has %v, and had %v ohm", ohms, rail)
		}
		if ohms, _ := again.bench.Truth("input joint"); ohms > 1 {
			t.Errorf("the joint is open again: %v ohm", ohms)
		}
		if turns, _ := again.bench.Truth("trimmer"); turns < 8 || turns > 9 {
			t.Errorf("the trimmer is at %v", turns)
		}
		text, err := os.ReadFile(j.path)
		if err != nil || strings.Contains(string(text), `"CN`) || !strings.HasSuffix(string(text), "}\n") {
			t.Errorf("the torn line is still there: %v\n%s", err, text)
		}
		if err := j.end(); err != nil {
			t.Error(err)
		}
	})
}

// What a full disk tore off is taken back before more is written behind it.
func TestATornLineIsCutOff(t *testing.T) {
	j := begun(t, t.TempDir())
	first, torn := j.note(journalLine{Job: "AB-0147"}), `{"at":"2031-`
	if _, err := j.file.WriteString(torn); errors.Join(first, err) != nil {
		t.Fatal(first, err)
	}
	if err := errors.Join(j.cut(len(torn)), j.cut(0), j.note(journalLine{Do: []string{"turn", "1"}}), j.end(), j.sync()); err != nil {
		t.Fatal(err)
	}
	if again, err := readJournal(filepath.Dir(j.path)); err != nil || len(again.lines) != 2 {
		t.Errorf("%+v, %v", again, err)
	}
}

// A set that came in for another job is a new one: what hands did before it is not
// done again.
func TestASetThatCameInIsNew(t *testing.T) {
	j := begun(t, t.TempDir())
	for _, l := range []journalLine{{Job: "AB-0147"}, {Do: []string{"part", "PS2", "out"}}, {Job: "AB-0148"}, {Do: []string{"part", "CN3", "out"}}} {
		if err := j.note(l); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(j.sync(), j.end(), j.end()); err != nil {
		t.Fatal(err)
	}
	again, err := readJournal(filepath.Dir(j.path))
	if err != nil || len(again.lines) != 2 || again.lines[0].Job != "AB-0148" || again.lines[1].line != 5 {
		t.Errorf("%+v, %v", again.lines, err)
	}
	if g := (goingOn{journal: again, open: []string{"AB-0147", "AB-0148", "AB-0149"}}); g.job() != "AB-0148" {
		t.Errorf("goes on: %s", g.job())
	}
}

// A journal of another board is laid aside whole, under a name that is free, and
// a set comes in as new; it is said where it lies.
func TestAJournalOfAnotherBoardIsLaidAside(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, journalName)
	for n := range 2 {
		text := fmt.Sprintf(`{"journal":"hands of steadyrail demo --plain","format":1,"board":"0123456789abcde%d","seed":7}`+"\n"+`{"do":["part","CN4711","out"]}`+"\n", n)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		g, err := look(t.Context(), Options{Workspace: folder, Seed: 88}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if g.journal.has() || g.is() || g.journal.head != (journalHead{ours().Journal, journalFormat, boardMark(), 88}) {
			t.Errorf("it goes on: %+v", g.journal)
		}
		if kept, err := os.ReadFile(g.journal.aside); err != nil || string(kept) != text {
			t.Errorf("kept %q, %v", kept, err)
		}
		if say := g.journal.saysAside(); !strings.Contains(say, g.journal.aside) || !strings.Contains(say, "other parts or points") {
			t.Errorf("%q", say)
		}
		if _, err := os.Stat(path); !os.IsNotExist(err) {
			t.Errorf("it is still there: %v", err)
		}
	}
}

// What cannot be gone on with is refused with its line and what to do, before
// anything is begun, and the file stays as it is.
func TestJournalsThatAreRefused(t *testing.T) {
	head := `{"journal":"hands of steadyrail demo --plain","format":1,"board":"` + boardMark() + `","seed":88}` + "\n"
	for text, want := range map[string]string{
		`{"journal":"diary","format":1}` + "\n":                                            "line 1: it is no such journal",
		strings.Replace(head, `"format":1`, `"format":2`, 1):                               "line 1: it has format 2",
		head + "nonsense\n" + `{"do":["part","PS2","out"]}` + "\n":                         "line 2: it cannot be read",
		head + `{"job":"AB-0147"}` + "\n" + `{"do":["part","CN4711","out"]}` + "\n":        `line 3: part CN4711 out: no part "CN4711"`,
		head + `{"job":"AB-0147"}` + "\n" + `{"do":["fault","short","+5","V","x"]}` + "\n": "line 3: fault short +5 V x: no such fault",
	} {
		folder := t.TempDir()
		path := filepath.Join(folder, journalName)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		j, err := readJournal(folder)
		if err == nil {
			synctest.Test(t, func(t *testing.T) {
				h, clock := handsOn(t)
				err = h.restore(j, clock)
			})
		}
		if !errors.Is(err, errJournal) || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "rename that file, or take another --workspace") {
			t.Errorf("%q: %v", text, err)
		}
		if kept, err := os.ReadFile(path); err != nil || string(kept) != text {
			t.Errorf("%q became %q, %v", text, kept, err)
		}
	}
}

// Whatever is read, and then begun, is read the same again; nothing panics.
func FuzzJournal(f *testing.F) {
	head := `{"journal":"hands of steadyrail demo --plain","format":1,"board":"` + boardMark() + `","seed":88}` + "\n"
	for _, s := range []string{"", head, head[:20], head + `{"job":"AB-0147"}` + "\n" + `{"do":["turn","1"]`, head + `{"at":"2031-03-12T10:00:00Z","do":["turn","1"]}`, head + "\x00\x00"} {
		f.Add([]byte(s))
	}
	read := func(text []byte) (*journal, error) {
		j := &journal{head: ours()}
		return j, j.parse(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		j, err := read(text)
		if err != nil {
			return
		}
		whole, err := j.whole(slices.Clone(text))
		if err != nil {
			t.Fatal(err)
		}
		again, err := read(append(whole, `{"do":["turn","1"]}`...))
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if n := len(j.lines); len(again.lines) != n+1 || n > 0 && !reflect.DeepEqual(again.lines[:n], j.lines) {
			t.Errorf("%q: %+v, then %+v", text, j.lines, again.lines)
		}
	})
}
