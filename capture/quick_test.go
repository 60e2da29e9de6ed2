package capture

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// TestQuickIsExact: the quick way takes nothing that the other way reads
// otherwise, to the bit, and refuses nothing that instruments usually send.
func TestQuickIsExact(t *testing.T) {
	form := rapid.StringMatching(`[+-]?[0-9]{0,12}\.?[0-9]{0,9}([eE][+-]?[0-9]{1,2})?`)
	rapid.Check(t, func(t *rapid.T) {
		s := form.Draw(t, "s")
		v, res, ok := quick(s)
		if !ok {
			return
		}
		want, wantRes, flags, err := parseResponse(s, s)
		if err != nil || flags != 0 || math.Float64bits(v) != math.Float64bits(want) || res != wantRes {
			t.Fatalf("%q: %g, %g; the other way %g, %g, %s, %v", s, v, res, want, wantRes, flags, err)
		}
		parsed, err := strconv.ParseFloat(s, 64)
		if err != nil || parsed != v {
			t.Fatalf("%q: %g, strconv says %g, %v", s, v, parsed, err)
		}
	})
	for _, s := range []string{"+5.0120E+00", "-12.0432E+00", "5.012", "0.000", "+1.91734E+03", "12", ".5", "12.", "1.5E-9", "+05.0121E+00", "-0"} {
		if _, _, ok := quick(s); !ok {
			t.Errorf("%q is not taken", s)
		}
	}
	for _, s := range []string{"", "+", ".", "1.2.3", "1e", "1e+", "1e123", "1 2", "0x1", "1_0", "9.9E37", "NAN", "1234567890123456"} {
		if _, _, ok := quick(s); ok {
			t.Errorf("%q is taken", s)
		}
	}
}

func FuzzQuick(f *testing.F) {
	for _, s := range []string{"+5.0120E+00", "9.9E37", "1e-22", "999999999999999e22", "-0", ".5", "1_0", "0x1p4"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, res, ok := quick(s); ok {
			want, wantRes, flags, err := parseResponse(s, s)
			if err != nil || flags != 0 || math.Float64bits(v) != math.Float64bits(want) || res != wantRes {
				t.Fatalf("%q: %g, %g; the other way %g, %g, %s, %v", s, v, res, want, wantRes, flags, err)
			}
		}
	})
}

// replies are as meters and supplies send them.
var replies = []string{"+5.01234567E+00", "-1.20432000E+01", "11.99", "0.412", "+8.41200000E-01", "+23.41E+00"}

// TestParseResponseAllocatesNothing, for numbers.
func TestParseResponseAllocatesNothing(t *testing.T) {
	n := testing.AllocsPerRun(100, func() {
		for _, s := range replies {
			if _, _, _, err := ParseResponse(s); err != nil {
				t.Fatal(err)
			}
		}
	})
	if n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// BenchmarkReply reads replies: "ours" with resolution and special numbers, and
// the baseline "strconv.ParseFloat" the value alone. The bound is twice the
// baseline within one run, and no allocation.
func BenchmarkReply(b *testing.B) {
	b.Run("ours", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			if _, _, _, err := ParseResponse(replies[i%len(replies)]); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("strconv.ParseFloat", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			if _, err := strconv.ParseFloat(replies[i%len(replies)], 64); err != nil {
				b.Fatal(err)
			}
		}
	})
}
