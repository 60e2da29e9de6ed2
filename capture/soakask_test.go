package capture_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestParseLength(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"24h": 24 * time.Hour, "24 h": 24 * time.Hour, " 90 min ": 90 * time.Minute, "1h30m": 90 * time.Minute, "1 h 30 min": 90 * time.Minute, "0,5 h": 30 * time.Minute,
		"1.5 Hours": 90 * time.Minute, "50ms": 50 * time.Millisecond, "50\u00a0ms": 50 * time.Millisecond, "3 days": 72 * time.Hour, "1 day": 24 * time.Hour, "2 weeks": 14 * 24 * time.Hour, "250 µs": 250 * time.Microsecond,
	} {
		if got, err := capture.ParseLength(text); err != nil || got != want {
			t.Errorf("%q: %v %v, want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", " ", "8", "h", "-5 h", "5 parsec", "1.2.3 h", "1,2,3 h", "0 h", "0", "1e9 h", "11 years", "99999 weeks", "5 h h", "5 h 3", "+5h", "NaN h", "in 5 h"} {
		if got, err := capture.ParseLength(text); err == nil || !strings.Contains(err.Error(), "write 24 h") {
			t.Errorf("%q was read as %v (%v)", text, got, err)
		}
	}
}

func ask(pairs map[string]string) (capture.SoakQuestion, error) {
	return capture.ParseSoakQuestion(func(key string) string { return pairs[key] })
}

func TestParseSoakQuestion(t *testing.T) {
	got, err := ask(map[string]string{"failed_every": "1 day", "cycles_failed": "1 of 20", "confidence": "99,9 %", "dip": "50 ms", "depth": "30%", "meter": " dmm ", "aperture": "20ms", "every": "200 ms", "warm": "30 min"})
	want := capture.SoakQuestion{Every: 24 * time.Hour, CyclesFailed: 1, Cycles: 20, Confidence: 0.999, Dip: 50 * time.Millisecond, Depth: 0.3, Meter: "dmm", Aperture: 20 * time.Millisecond, Period: 200 * time.Millisecond, Warm: 30 * time.Minute}
	got.Confidence = float64(int(got.Confidence*1000+0.5)) / 1000
	if err != nil || got != want {
		t.Errorf("%+v %v", got, err)
	}
	if got, err := ask(nil); err != nil || got != (capture.SoakQuestion{}) {
		t.Errorf("nothing: %+v %v", got, err)
	}
	for key, texts := range map[string][]string{
		"failed_every": {"24"}, "dip": {"50"}, "aperture": {"x"}, "every": {"-1 s"}, "warm": {"0 s"},
		"cycles_failed": {"1", "0/20", "20/1", "1/20/3", "a/b", "1/9999999", "-1/5"}, "confidence": {"0", "101", "x", "-5", "NaN"}, "depth": {"0 %", "200", "%"},
	} {
		for _, text := range texts {
			if q, err := ask(map[string]string{key: text}); err == nil || !strings.HasPrefix(err.Error(), key+": ") || q != (capture.SoakQuestion{}) {
				t.Errorf("%s %q: %+v %v", key, text, q, err)
			}
		}
	}
}

// What the house prints as a length is read back.
func TestParseLengthReadsDurations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(1, 3_000_000_000).Draw(t, "µs")) * time.Millisecond
		if got, err := capture.ParseLength(d.String()); err != nil || (got-d).Abs() > time.Microsecond {
			t.Fatalf("%s: %v %v", d, got, err)
		}
	})
}

func FuzzParseSoakQuestion(f *testing.F) {
	for _, s := range []string{"24 h", "1h30m", "0,5 h", "1/20", "99.9 %", "50 ms", "3 days", "", "..", "1 of 20"} {
		f.Add(s, s, s)
	}
	f.Fuzz(func(t *testing.T, length, cycles, share string) {
		q, err := capture.ParseSoakQuestion(func(key string) string {
			return map[string]string{"failed_every": length, "cycles_failed": cycles, "confidence": share, "depth": share, "meter": length}[key]
		})
		if err != nil {
			if q != (capture.SoakQuestion{}) {
				t.Fatalf("refused (%v) and read as %+v", err, q)
			}
			return
		}
		if q.Every < 0 || q.Every > 10*365*24*time.Hour || q.CyclesFailed < 0 || q.CyclesFailed > q.Cycles || q.Confidence < 0 || q.Confidence > 1 || q.Depth != q.Confidence {
			t.Fatalf("%+v", q)
		}
	})
}
