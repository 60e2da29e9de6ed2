package capture_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const reference = "../testdata/reference/"

// numbersFile holds forms of numbers after IEEE 488.2-1992 and SCPI-1999.
type numbersFile struct {
	NR1, NR2, NR3, NRf []string
	NonDecimal         [][2]any
	Infinity           float64
	NotANumber         float64 `json:"not_a_number"`
}

func readNumbers(t *testing.T) (n numbersFile) {
	t.Helper()
	raw, err := os.ReadFile(reference + "scpi/numbers.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &n); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestParseResponseStandardForms(t *testing.T) {
	n := readNumbers(t)
	forms := append(append(append(n.NR1, n.NR2...), n.NR3...), n.NRf...)
	if len(forms) < 14 {
		t.Fatalf("only %d forms in the file", len(forms))
	}
	for _, s := range forms {
		want, _ := strconv.ParseFloat(s, 64) // these are plain enough for it
		v, resolution, flags, err := capture.ParseResponse(s)
		if err != nil || flags != 0 || v != want || resolution <= 0 {
			t.Errorf("%q: got %g, %g, %s, %v; want %g", s, v, resolution, flags, err, want)
		}
	}
	for v, want := range map[float64]capture.Flags{n.Infinity: capture.OverRange, -n.Infinity: capture.UnderRange, n.NotANumber: capture.NotANumber} {
		_, _, flags, err := capture.ParseResponse(strconv.FormatFloat(v, 'E', -1, 64))
		if err != nil || flags != want {
			t.Errorf("%g: got %s, %v; want %s", v, flags, err, want)
		}
	}
}

func TestParseResponse(t *testing.T) {
	for _, c := range []struct {
		text          string
		v, resolution float64
		flags         capture.Flags
	}{
		{"+5.0120E+00", 5.012, 1e-4, 0},
		{" 5.012\r", 5.012, 0.001, 0},
		{"-1.21400E+01", -12.14, 1e-4, 0},
		{"8.4e-1", 0.84, 0.01, 0},
		{"1.92E3", 1920, 10, 0}, // no sign in the exponent
		{"12.", 12, 1, 0},
		{".5", 0.5, 0.1, 0},
		{"-0.000", 0, 0.001, 0},
		{"+9.90000000E+37", 0, 0, capture.OverRange},
		{"9.9E37", 0, 0, capture.OverRange},
		{"9.89999986E+37", 0, 0, capture.OverRange}, // through 32 bits
		{"-9.9E+37", 0, 0, capture.UnderRange},
		{"9.91E+37", 0, 0, capture.NotANumber},
		{"9.90999981E+37", 0, 0, capture.NotANumber},
		{"INF", 0, 0, capture.OverRange}, {"+inf", 0, 0, capture.OverRange}, {"INFinity", 0, 0, capture.OverRange},
		{"NINF", 0, 0, capture.UnderRange}, {"-INF", 0, 0, capture.UnderRange}, {"NAN", 0, 0, capture.NotANumber},
	} {
		v, resolution, flags, err := capture.ParseResponse(c.text)
		if err != nil || v != c.v || resolution != c.resolution || flags != c.flags || math.Signbit(v) && v == 0 {
			t.Errorf("%q: got %g, %g, %s, %v; want %g, %g, %s", c.text, v, resolution, flags, err, c.v, c.resolution, c.flags)
		}
	}
}

func TestParseResponseRefuses(t *testing.T) {
	for _, s := range []string{"", " ", "5.0 V", "5.0V", "1,2", "5.0,5.1", "1.2.3", "0x1F", "0x1p-2", "1_000", "1e", "e5", "+", "-", ".", "1E+", "1 2", "5E 3",
		"infinit", "nan(1)", "#H20", "1e38", "9.95e37", "-9.91E37", "1e400", "1e-400", "5,02", "\u22125", "\"5\"", "5\x00", strings.Repeat("9", 500)} {
		v, _, flags, err := capture.ParseResponse(s)
		if !errors.Is(err, capture.ErrNotANumber) || v != 0 || flags != 0 {
			t.Errorf("%.20q: got %g, %s, %v; want a refusal", s, v, flags, err)
		}
	}
}

// Parse after print: what an instrument can print comes back as it was.
func TestParseResponseReadsWhatIsPrinted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-9e37, 9e37).Draw(t, "v")
		format := rapid.SampledFrom([]byte{'e', 'E'}).Draw(t, "format")
		s := strconv.FormatFloat(v, format, -1, 64)
		if math.Abs(v) < 1e-280 && v != 0 {
			t.Skip("the last digit leaves float64")
		}
		got, resolution, flags, err := capture.ParseResponse(s)
		if err != nil || flags != 0 || got != v || resolution <= 0 {
			t.Fatalf("%q: got %g, %g, %s, %v", s, got, resolution, flags, err)
		}
	})
}

func FuzzParseResponse(f *testing.F) {
	for _, s := range []string{"+5.0120E+00", "9.9E37", "NAN", "0x1p-2", "1_0", "inf", "+9.91E+37\r\n", "5.0 V", "1e-9999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, resolution, flags, err := capture.ParseResponse(s)
		switch {
		case err != nil:
			if !errors.Is(err, capture.ErrNotANumber) || v != 0 || resolution != 0 || flags != 0 {
				t.Fatalf("%q: %g, %g, %s, %v", s, v, resolution, flags, err)
			}
		case flags != 0:
			if v != 0 || resolution != 0 || !flags.Has(capture.NoValue) {
				t.Fatalf("%q: flagged %s with %g", s, flags, v)
			}
		case math.IsNaN(v) || math.Abs(v) >= 9.9e37 || !(resolution > 0) || strings.ContainsAny(s, "_xXpP,"):
			t.Fatalf("%q gave %g, %g", s, v, resolution)
		}
	})
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(reference + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

// Against SCPI-1999 and IEEE 488.2, suffix_examples.csv.
func TestParseProgramNumberSuffixExamples(t *testing.T) {
	unitNames := map[string]capture.Unit{"ohm": capture.Ohm, "hertz": capture.Hertz, "volt": capture.Volt, "ampere": capture.Ampere, "farad": capture.Farad, "second": capture.Second}
	for _, row := range readCSV(t, "scpi/suffix_examples.csv") {
		want, _ := strconv.ParseFloat(row[1], 64)
		v, unit, err := capture.ParseProgramNumber(row[0])
		if err != nil || v != want || unit != unitNames[row[2]] {
			t.Errorf("%q: got %g %s, %v; want %g %s", row[0], v, unit, err, want, row[2])
		}
	}
	// The equal values that the last example's remark lists.
	for _, s := range []string{"28", "0.28E2", "280E-1", "28000m", "0.028K", "28E-3K"} {
		if v, unit, err := capture.ParseProgramNumber(s); err != nil || v != 28 || unit != capture.One {
			t.Errorf("%q: got %g %s, %v; want 28", s, v, unit, err)
		}
	}
}

// Against IEEE 488.2-1992, table 7-2: every multiplier before V, and before A
// where the whole is a unit of its own.
func TestParseProgramNumberMultipliers(t *testing.T) {
	for _, row := range readCSV(t, "scpi/suffix_multipliers.csv") {
		want, _ := strconv.ParseFloat(row[1], 64)
		for suffix, unit := range map[string]capture.Unit{"V": capture.Volt, "A": capture.Ampere, "W": capture.Watt} {
			v, u, err := capture.ParseProgramNumber("1 " + row[0] + suffix)
			if err != nil || v != want || u != unit {
				t.Errorf("1 %s%s: got %g %s, %v; want %g", row[0], suffix, v, u, err, want)
			}
		}
	}
	if len(readCSV(t, "scpi/suffix_multipliers.csv")) != 12 {
		t.Error("the table has 12 multipliers")
	}
}

func TestParseProgramNumberNonDecimal(t *testing.T) {
	for _, pair := range readNumbers(t).NonDecimal {
		v, unit, err := capture.ParseProgramNumber(pair[0].(string))
		if err != nil || v != pair[1].(float64) || unit != capture.One {
			t.Errorf("%v: got %g %s, %v; want %v", pair[0], v, unit, err, pair[1])
		}
	}
}

func TestParseProgramNumberRefuses(t *testing.T) {
	for _, s := range []string{"", "V", "5 VA", "5 DBM", "5 QV", "#", "#H", "#HG", "#H-1", "#H+1", "#X12", "#HFFFFFFFFFFFFFFFF", "#H1_0", "1_0", "0x10", "1e999 V", "MIN", "INF", "1 V 2", "9.9E37", "99 EXV EX"} {
		if v, u, err := capture.ParseProgramNumber(s); !errors.Is(err, capture.ErrNotANumber) {
			t.Errorf("%q: got %g %s, %v; want a refusal", s, v, u, err)
		}
	}
}

func FuzzParseProgramNumber(f *testing.F) {
	for _, s := range []string{"1.5 KOHM", "3 MA", "#HFF", "28E-3K", "2 MAOHM", "1e5EX"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, _, err := capture.ParseProgramNumber(s)
		if err != nil && (!errors.Is(err, capture.ErrNotANumber) || v != 0) || math.IsNaN(v) || math.Abs(v) >= 9.9e37 {
			t.Fatalf("%q: %g, %v", s, v, err)
		}
	})
}
