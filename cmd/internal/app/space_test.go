package app

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const gigabyte = 1_000_000_000

// step is one look: so long after the one before, with so much free and so much
// written.
type spaceStep struct {
	after         time.Duration
	free, written int64
	say           string // part of what is told; "" for nothing
}

func TestSpaceIsToldOnceAndAgainWhenMuchWorse(t *testing.T) {
	const hour, day = time.Hour, 24 * time.Hour
	tests := map[string][]spaceStep{
		"plenty": {{0, 500 * gigabyte, 0, ""}, {hour, 500 * gigabyte, 1e6, ""}, {hour, 499 * gigabyte, 1e6, ""}},
		"little room, nothing is written": {
			{0, gigabyte + 1, 0, ""}, {hour, gigabyte - 1e7, 0, "990 MB free; the record does not grow now"}, {hour, gigabyte / 2, 0, ""},
			{hour, gigabyte / 9, 0, ""}, {hour, gigabyte / 11, 0, "90.9 MB free"}, {hour, gigabyte / 11, 0, ""},
		},
		"little room from the start": {{0, gigabyte / 2, 0, "500 MB free; how fast the record grows is not known yet"}, {hour, gigabyte / 2, 0, ""}},
		"none at all":                {{0, 0, 0, "0 B free"}, {hour, 0, 0, ""}, {hour, 0, 1, ""}},
		"written fast": {
			{0, 20 * gigabyte, 0, ""}, {time.Minute, 20 * gigabyte, 1e9, ""}, // too short to tell
			{hour - time.Minute, 19 * gigabyte, 0, "the disk is full in about 19 hours"}, {hour, 19 * gigabyte, 1e9, ""},
			{hour, 19 * gigabyte, 1e9, ""}, {hour, 19e8, 15e9, "full in about 25 minutes"},
		},
		"room was made, and went again": {
			{0, gigabyte / 2, 0, "500 MB"}, {hour, gigabyte * 3 / 2, 0, ""}, {hour, gigabyte / 2, 0, ""}, // not enough to be told anew
			{hour, gigabyte * 3, 0, ""}, {hour, gigabyte / 2, 0, "500 MB"},
		},
		"cannot be told": {{0, -1, 0, ""}, {hour, -1, 1e9, ""}},
		"old speed is forgotten": {
			{0, 100 * gigabyte, 0, ""}, {hour, 100 * gigabyte, 1e7, ""}, {day, 100 * gigabyte, 0, ""}, {day, gigabyte / 2, 0, "does not grow now"},
		},
	}
	for name, steps := range tests {
		t.Run(name, func(t *testing.T) {
			w, at, size := newSpaceWatch(), time.Unix(0, 0), int64(4096)
			for i, s := range steps {
				at, size = at.Add(s.after), size+s.written
				got := w.look(at, s.free, map[string]int64{"AB-0147": size})
				if got == "" != (s.say == "") || !strings.Contains(got, s.say) {
					t.Errorf("look %d says %q, want %q", i, got, s.say)
				}
			}
		})
	}
}

func TestSpaceRateIsThatOfAllJobs(t *testing.T) {
	w, at := newSpaceWatch(), time.Unix(0, 0)
	look := func(sizes map[string]int64) { w.look(at, 500*gigabyte, sizes); at = at.Add(time.Hour) }
	look(map[string]int64{"a": 1e6})
	if r := w.room(); r.Rate >= 0 {
		t.Errorf("a rate of %g out of one look", r.Rate)
	}
	look(map[string]int64{"a": 1e6 + 3600})
	look(map[string]int64{"a": 1e6 + 7200, "b": 5e9})         // was there, and is opened again
	look(map[string]int64{"a": 1e6 + 10800, "b": 5e9 + 3600}) // 2 B/s in this hour
	look(map[string]int64{"b": 4e9})                          // one is closed, one became smaller
	if r := w.room(); r.Rate != 1 {
		t.Errorf("%g B/s, want 1", r.Rate)
	}
}

// Whatever happens, the rate is no negative one and the window is bounded.
func TestSpaceWatchProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, at := newSpaceWatch(), time.Unix(0, 0)
		for range rapid.IntRange(2, 100).Draw(t, "looks") {
			at = at.Add(time.Duration(rapid.Int64Range(int64(spaceEvery), int64(spaceWindow)).Draw(t, "after")))
			w.look(at, rapid.Int64Range(0, 1e13).Draw(t, "free"), map[string]int64{"a": rapid.Int64Range(0, 1e12).Draw(t, "size")})
		}
		if r := w.room(); r.Rate < 0 && r.Rate != -1 || len(w.samples) > int(spaceWindow/spaceEvery)+2 {
			t.Fatalf("%+v out of %d samples", r, len(w.samples))
		}
	})
}
