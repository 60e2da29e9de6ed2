package rules

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// board is a sheet with two parts, both on +5 V logic alone.
func board(part, rail string) (on, known bool) {
	known = part == "C14" || part == "CN3"
	return known && rail == five.Name, known
}

func unknown(string, string) (bool, bool) { return false, false }

// Work on a rail makes its cold check stale, and only its own, where the sheet
// tells which that is; of a part that nobody knows, and of every rail that shares
// its source, a new reading is asked for.
func TestWorkMakesAColdCheckStale(t *testing.T) {
	other := capture.Rail{Name: "other"}
	rails := []capture.Rail{{Name: five.Name, FedFrom: "PS9"}, {Name: dsp.Name, FedFrom: "ps9"}, other}
	judged := capture.Act{Verb: capture.ActJudge, Subject: five.Name}
	for _, c := range []struct {
		name    string
		acts    []capture.Act
		touches func(part, rail string) (bool, bool)
		stale   map[string]string
	}{
		{"put back", []capture.Act{{Verb: capture.ActPutBack, Subject: "C14"}}, board, map[string]string{five.Name: "C14 was put back", dsp.Name: "C14 was put back"}},
		{"lifted", []capture.Act{{Verb: capture.ActLift, Subject: "CN3"}}, board, map[string]string{five.Name: "CN3 was lifted", dsp.Name: "CN3 was lifted"}},
		{"fitted, not on the sheet", []capture.Act{{Verb: capture.ActPart, Subject: "R7"}}, board, map[string]string{five.Name: "R7 was fitted", dsp.Name: "R7 was fitted", other.Name: "R7 was fitted"}},
		{"without a sheet", []capture.Act{{Verb: capture.ActPutBack, Subject: "C14"}}, unknown, map[string]string{five.Name: "C14 was put back", dsp.Name: "C14 was put back", other.Name: "C14 was put back"}},
		{"the newest is told", []capture.Act{{Verb: capture.ActLift, Subject: "C14"}, {Verb: capture.ActPutBack, Subject: "C14"}}, board, map[string]string{five.Name: "C14 was put back", dsp.Name: "C14 was put back"}},
		{"a stand-in in the set", []capture.Act{judged, {Verb: capture.ActStage, Stage: capture.Trim}}, board, map[string]string{five.Name: "the stand-in for " + five.Name + " was fitted", dsp.Name: "the stand-in for " + five.Name + " was fitted"}},
		{"a stand-in on the bench", []capture.Act{judged, {Verb: capture.ActStage, Stage: capture.Preset}}, board, nil},
		{"a trimmer of the set's own", []capture.Act{{Verb: capture.ActStage, Stage: capture.Trim}}, board, nil},
		{"a note", []capture.Act{{Verb: capture.ActNote, Subject: "C14"}}, board, nil},
	} {
		var w Works
		checked := at(10)
		for i, act := range c.acts {
			w.Consume(capture.Record{At: at(20).Add(time.Duration(i) * time.Second), Item: act})
		}
		for _, r := range rails {
			work, stale := w.Since(checked, r.Name, rails, c.touches)
			if stale != (c.stale[r.Name] != "") || work.What != c.stale[r.Name] {
				t.Errorf("%s: %s: %t, %q", c.name, r.Name, stale, work.What)
			}
			if _, stale := w.Since(at(float64(20+len(c.acts))), r.Name, rails, c.touches); stale {
				t.Errorf("%s: %s was read after it and is stale", c.name, r.Name)
			}
		}
	}
}

// A reading that was on its way when a hand worked is none of after it.
func TestAReadingInFlightIsNoCheck(t *testing.T) {
	var w Works
	done := at(20)
	w.Consume(capture.Record{At: done, Item: capture.Act{Verb: capture.ActPutBack, Subject: "C14"}})
	for after, want := range map[time.Duration]bool{-time.Minute: true, 0: true, inFlight - time.Microsecond: true, inFlight: false, time.Hour: false} {
		if _, stale := w.Since(done.Add(after), five.Name, nil, board); stale != want {
			t.Errorf("checked %s after it: stale %t", after, stale)
		}
	}
}

// A stand-in that is judged and fitted twice is two works; one that stays where it
// is, is none.
func TestAStandInIsFittedOnce(t *testing.T) {
	var w Works
	take := func(s int, act capture.Act) { w.Consume(capture.Record{At: at(float64(s)), Item: act}) }
	take(1, capture.Act{Verb: capture.ActJudge, Subject: five.Name})
	take(2, capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
	take(9, capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
	take(10, capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
	if work, stale := w.Since(at(5), five.Name, nil, board); stale {
		t.Errorf("stale by %q", work.What)
	}
}

// Whatever was done, a check that is newer than all of it counts, and one that is
// older than any of it on its rail does not.
func TestNewestWorkDecides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var w Works
		newest := map[bool]capture.Instant{}
		now := at(1)
		for range rapid.IntRange(1, 12).Draw(t, "acts") {
			now = now.Add(time.Duration(rapid.IntRange(1, 90).Draw(t, "seconds")) * time.Second)
			part := rapid.SampledFrom([]string{"C14", "CN3", "R7"}).Draw(t, "part")
			w.Consume(capture.Record{At: now, Item: capture.Act{Verb: rapid.SampledFrom([]capture.Verb{capture.ActLift, capture.ActPutBack, capture.ActPart}).Draw(t, "verb"), Subject: part}})
			newest[true] = now
			if part == "R7" {
				newest[false] = now
			}
		}
		checked := at(float64(rapid.IntRange(0, 1200).Draw(t, "checked")))
		for rail, on5 := range map[string]bool{five.Name: true, dsp.Name: false} {
			_, stale := w.Since(checked, rail, nil, board)
			if want := !newest[on5].IsZero() && checked.Sub(newest[on5]) < inFlight; stale != want {
				t.Fatalf("%s checked at %d: stale %t, newest work %d", rail, checked, stale, newest[on5])
			}
		}
	})
}

func TestStaleSaysWhen(t *testing.T) {
	day := time.Date(2031, 5, 6, 10, 42, 0, 0, time.UTC)
	w := Work{At: capture.InstantOf(day.Add(9 * time.Minute)), What: "C14 was put back"}
	if got := w.Stale(five.Name, capture.InstantOf(day), time.UTC); !strings.HasSuffix(got, "passed last at 10:42, then C14 was put back at 10:51") {
		t.Error(got)
	}
}
