package modbus

import (
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestScales(t *testing.T) {
	for _, c := range []struct {
		text string
		want Scale
		step float64
	}{
		{"1", Scale{1, 0}, 1}, {"0.01", Scale{1, -2}, 0.01}, {"1e-3", Scale{1, -3}, 0.001}, {"0.25", Scale{25, -2}, 0.25},
		{"10", Scale{1, 1}, 10}, {"2.50", Scale{25, -1}, 2.5}, {"1E2", Scale{1, 2}, 100}, {"0.0005", Scale{5, -4}, 0.0005},
	} {
		got, err := ParseScale(c.text)
		if err != nil || got != c.want || got.Step() != c.step {
			t.Errorf("%s: %+v, %v, step %v", c.text, got, err, got.Step())
		}
	}
	for _, bad := range []string{"", "0", "-1", "+1", "1e", "e3", "1e99", "0.0", "1_0", "0x10", "1,5", "NaN", "1234567890", " 1", "1e-3e2", "1.2.3"} {
		if got, err := ParseScale(bad); err == nil {
			t.Errorf("%q was taken for %+v", bad, got)
		}
	}
}

// TestTexts: two's complement and IEEE 754 by hand; 555 and 100 are the
// registers of the published example of function 3 (Application Protocol V1.1b3,
// 6.3).
func TestTexts(t *testing.T) {
	for _, c := range []struct {
		format Format
		data   string
		text   string
		flags  capture.Flags
	}{
		{Format{}, "02 2B", "555", 0},
		{Format{}, "00 64", "100", 0},
		{Format{Scale: Scale{1, -2}}, "02 2B", "5.55", 0},
		{Format{Scale: Scale{1, -2}}, "00 05", "0.05", 0},
		{Format{Scale: Scale{1, -2}}, "00 00", "0.00", 0},
		{Format{Scale: Scale{1, 2}}, "00 05", "500", 0},
		{Format{Scale: Scale{1, 2}}, "00 00", "0", 0},
		{Format{Scale: Scale{25, -2}}, "00 03", "0.75", 0},
		{Format{Signed: true, Scale: Scale{1, -3}}, "FF FF", "-0.001", 0},
		{Format{Signed: true}, "80 00", "-32768", 0},
		{Format{Signed: true}, "7F FF", "32767", 0},
		{Format{LowByteFirst: true}, "2B 02", "555", 0},
		{Format{Words: 2}, "00 01 86 A0", "100000", 0},
		{Format{Words: 2, LowWordFirst: true}, "86 A0 00 01", "100000", 0},
		{Format{Words: 2, LowWordFirst: true, LowByteFirst: true}, "A0 86 01 00", "100000", 0},
		{Format{Words: 2, Signed: true}, "FF FF FF FE", "-2", 0},
		{Format{Words: 4}, "FF FF FF FF FF FF FF FF", "18446744073709551615", 0},
		{Format{Words: 4, Signed: true}, "80 00 00 00 00 00 00 00", "-9223372036854775808", 0},
		{Format{Words: 2, Float: true}, "40 9F 97 F6", "4.9873", 0}, // 0x409F97F6: 1.2468250 * 4
		{Format{Words: 2, Float: true}, "3F 80 00 00", "1", 0},
		{Format{Words: 2, Float: true}, "C2 F7 00 00", "-123.5", 0},
		{Format{Words: 2, Float: true, Scale: Scale{1, -3}}, "C2 F7 00 00", "-0.1235", 0},
		{Format{Words: 2, Float: true}, "7F C0 00 00", "", capture.NotANumber},
		{Format{Words: 2, Float: true}, "7F 80 00 00", "", capture.OverRange},
		{Format{Words: 2, Float: true}, "FF 80 00 00", "", capture.UnderRange},
	} {
		got, flags := c.format.text(c.format.raw(unhex(t, c.data)))
		if got != c.text || flags != c.flags {
			t.Errorf("%+v %s: %q %s, want %q %s", c.format, c.data, got, flags, c.text, c.flags)
		}
	}
}

func TestEncode(t *testing.T) {
	hundredth := Scale{1, -2}
	for _, c := range []struct {
		format Format
		number string
		want   string // empty: refused
	}{
		{Format{Scale: hundredth}, "5", "01 F4"},
		{Format{Scale: hundredth}, "5.004", "01 F4"},
		{Format{Scale: hundredth}, "5.005", "01 F5"},
		{Format{Scale: hundredth}, "655.35", "FF FF"},
		{Format{Scale: hundredth}, "655.36", ""},
		{Format{Scale: hundredth}, "-0.01", ""},
		{Format{Scale: hundredth, Signed: true}, "-0.01", "FF FF"},
		{Format{Signed: true}, "-32768", "80 00"},
		{Format{Signed: true}, "32768", ""},
		{Format{Words: 2, LowWordFirst: true}, "100000", "86 A0 00 01"},
		{Format{Words: 2, Float: true}, "-123.5", "C2 F7 00 00"},
		{Format{Words: 2, Float: true}, "1e39", ""},
		{Format{}, "five", ""},
	} {
		got, err := c.format.encode(c.number)
		if (err != nil) != (c.want == "") || err == nil && string(got) != string(unhex(t, c.want)) {
			t.Errorf("%+v %s: % x, %v, want %s", c.format, c.number, got, err, c.want)
		}
	}
}

func formats() *rapid.Generator[Format] {
	return rapid.Custom(func(t *rapid.T) Format {
		f := Format{
			Words: rapid.SampledFrom([]int{1, 2, 4}).Draw(t, "words"), Signed: rapid.Bool().Draw(t, "signed"),
			LowWordFirst: rapid.Bool().Draw(t, "low word first"), LowByteFirst: rapid.Bool().Draw(t, "low byte first"),
			Scale: Scale{rapid.Int64Range(1, 999_999_999).Draw(t, "coefficient"), rapid.IntRange(-18, 18).Draw(t, "exponent")},
		}
		if f.Words == 1 {
			f.LowWordFirst = false
		}
		if f.Words == 2 && rapid.Bool().Draw(t, "float") {
			f.Float, f.Signed = true, false
			f.Scale = Scale{1, f.Scale.Exponent}
		}
		return f
	})
}

// TestNumbersGoThereAndBack: whatever lies in the registers, its decimal lays the
// same registers again, in every order and at every scale.
func TestNumbersGoThereAndBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := formats().Draw(rt, "format")
		if err := f.Check(); err != nil {
			rt.Fatal(err)
		}
		data := rapid.SliceOfN(rapid.Byte(), 2*f.Words, 2*f.Words).Draw(rt, "registers")
		if got := f.lay(f.raw(data)); string(got) != string(data) {
			rt.Fatalf("% x became % x", data, got)
		}
		text, flags := f.text(f.raw(data))
		if flags != 0 {
			return
		}
		back, err := f.encode(text)
		if err != nil {
			rt.Fatalf("%s: %v", text, err)
		}
		minusZero := f.Float && strings.Trim(text, "0.-") == ""
		if string(back) != string(data) && !minusZero {
			rt.Fatalf("%+v: % x is %s is % x", f, data, text, back)
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsInf(v, 0) {
			rt.Fatalf("%s: %v", text, err)
		}
	})
}

// TestTextsAreExact against arithmetic in fractions.
func TestTextsAreExact(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := formats().Draw(rt, "format")
		f.Float = false
		raw := rapid.Uint64().Draw(rt, "raw") & (1<<(16*f.Words) - 1)
		if f.Words == 4 {
			raw = rapid.Uint64().Draw(rt, "raw of 64 bits")
		}
		text, _ := f.text(raw)
		got, ok := new(big.Rat).SetString(text)
		n := new(big.Rat).SetInt(new(big.Int).SetUint64(raw))
		if f.Signed && raw>>(16*f.Words-1) == 1 {
			n.Sub(n, new(big.Rat).SetInt(new(big.Int).Lsh(big.NewInt(1), uint(16*f.Words))))
		}
		if !ok || got.Cmp(n.Mul(n, f.Scale.rat())) != 0 {
			rt.Fatalf("%+v %d: %s", f, raw, text)
		}
	})
}
