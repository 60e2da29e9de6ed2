package sim

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"unicode"
)

// table reads a reference set. The files in testdata are published facts:
// keyword_short_forms.csv, scpi_error_codes.csv and suffix_examples.csv after
// SCPI-1999 and IEEE 488.2.
func table(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", file, len(rows), err)
	}
	return rows[1:]
}

func TestKeywordForms(t *testing.T) {
	for _, row := range table(t, "keyword_short_forms.csv") {
		long, short := strings.ToUpper(row[0]), row[1]
		k := compilePattern(row[0])[0]
		if k.long != long || k.short != short {
			t.Errorf("%s compiled to %+v", row[0], k)
		}
		for n := 1; n <= len(long); n++ {
			hit, _ := k.is(long[:n])
			if want := n == len(long) || n == len(short); hit != want {
				t.Errorf("%s: %q taken: %v", row[0], long[:n], hit)
			}
		}
	}
	// scpi_ieee488.json, keyword_rule.must_reject
	r := newRig(t, 1, Scenario{})
	for _, bad := range []string{"MEASU:VOLT?", "MEAS:VOLTA?", "MEAS:FREQU?", "CONF:TEMPE", "SYSTe:ERR?", "STAT:PRESe"} {
		r.say(DMM, bad)
		if e := r.say(DMM, "SYST:ERR?"); !strings.HasPrefix(e, `-113,"Undefined header`) {
			t.Errorf("%s: %s", bad, e)
		}
	}
}

// Every pattern that the instruments know obeys the rule: four letters, or
// three when the fourth is a vowel.
func TestOwnKeywordsFollowTheRule(t *testing.T) {
	b := NewBench(&stepClock{}, 1, Scenario{})
	exceptions := map[string]string{"TCOUPLE": "TC"} // named in scpi_ieee488.json
	for _, name := range Instruments() {
		for _, c := range b.device(name).commands {
			if strings.HasPrefix(c.pattern, "*") {
				continue
			}
			for _, k := range c.nodes {
				want := k.long
				if len(want) > 4 {
					want = want[:4]
					if strings.ContainsRune("AEIOUY", rune(want[3])) {
						want = want[:3]
					}
				}
				if e := exceptions[k.long]; e != "" {
					want = e
				}
				if k.short != want {
					t.Errorf("%s: short form of %s is %s, want %s", c.pattern, k.long, k.short, want)
				}
			}
		}
	}
}

func TestErrorTexts(t *testing.T) {
	texts := map[string]string{}
	for _, row := range table(t, "scpi_error_codes.csv") {
		texts[row[0]] = row[1]
	}
	for _, e := range []*scpiError{&noError, errCharacter, errDataType, errNotAllowed, errMissing, errHeader, errHeaderSuffix,
		errNumber, errExponent, errSuffix, errSettingsConflict, errOutOfRange, errIllegalParameter, errStale, errQueueOverflow, errInputOverrun} {
		if want := texts[strconv.Itoa(e.number)]; want != e.text {
			t.Errorf("%d is %q, the standard says %q", e.number, e.text, want)
		}
	}
}

func TestSuffixes(t *testing.T) {
	units := map[string]string{"ohm": "OHM", "hertz": "HZ", "volt": "V", "ampere": "A", "farad": "F", "second": "S"}
	for _, row := range table(t, "suffix_examples.csv") {
		want, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		got, problem := readNumber(row[0], units[row[2]])
		if problem != nil || math.Abs(got-want) > 1e-12*math.Abs(want) {
			t.Errorf("%s: %g %v, want %g", row[0], got, problem, want)
		}
	}
	// scpi_ieee488.json, numeric_formats: nondecimal and NRf
	for text, want := range map[string]float64{
		"#HA2F": 2607, "#ha4e": 2638, "#Q62": 50, "#q15": 13, "#B01011": 11, "#H20": 32, "#HFF": 255,
		".5": 0.5, "5.": 5, "+1.5e3": 1500, "-2E-6": -2e-6,
	} {
		if got, problem := readNumber(text, ""); problem != nil || got != want {
			t.Errorf("%s: %g %v", text, got, problem)
		}
	}
	for text, want := range map[string]*scpiError{
		"": errDataType, "abc": errDataType, "1 X": errSuffix, "1E999": errExponent, "1..2": errNumber, "#": errNumber, "#X1": errNumber, "#HG": errNumber, "-": errDataType,
	} {
		if _, got := readNumber(text, "V"); got != want {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
}

// scpi_ieee488.json, status_sequence_test, without the power-on bit's history.
func TestStatusSequence(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	for _, step := range [][2]string{
		{"*CLS", ""}, {"*ESE #H20", ""}, {"*ESE?", "32"}, {"*SRE #HFF", ""}, {"*SRE?", "255"}, {"*OPC", ""}, {"*ESR?", "1"},
		{"ABCD", ""}, {"*STB?", "100"}, {"*ESR?", "32"}, {"*STB?", "68"}, {"SYST:ERR:COUN?", "1"},
		{"SYST:ERR?", `-113,"Undefined header;ABCD"`}, {"SYST:ERR?", `0,"No error"`}, {"*STB?", "0"},
	} {
		if got := r.say(DMM, step[0]); got != step[1] {
			t.Errorf("%s: %q, want %q", step[0], got, step[1])
		}
	}
}

func TestHeadersAndLevels(t *testing.T) {
	for _, tc := range []struct{ message, answer, err string }{
		{"SYST:VERS?", "1999.0", ""},
		{":SYSTEM:VERSION?", "1999.0", ""},
		{"syst:vers?;*OPC?", "1999.0;1", ""},
		{"SYST:VERS?;ERR?", `1999.0;0,"No error"`, ""},
		{"VOLT:RANG 10;RANG?", "+1.00000000E+01", ""},
		{"VOLT:RANG 10;*OPC?;RANG?", "1;+1.00000000E+01", ""},
		{"VOLT:NPLC 1;:RES:NPLC?", "+1.00000000E+01", ""},
		{"SENS1:VOLT:DC:RANG:UPP 1 V;:VOLT:RANG?", "+1.00000000E+00", ""},
		{"VOLT:RANG:AUTO ON;AUTO?", "1", ""},
		{"VOLT:RANG 100 MV;RANG?", "+1.00000000E-01", ""},
		{"SENS2:VOLT:RANG 1", "", `-114,"Header suffix out of range`},
		{"SYST:VERS", "", `-113,`},
		{"*ESR", "", `-113,`},
		{"*CLS?", "", `-113,`},
		{"SYST:VERS?;VERSION?;NONSENSE?", "1999.0;1999.0", `-113,`},
		{"VOLT:RANG", "", `-109,"Missing parameter"`},
		{"VOLT:RANG 1 KOHM", "", `-131,"Invalid suffix"`},
		{"VOLT:RANG 5000", "", `-222,"Data out of range"`},
		{"FUNC VOLT", "", `-104,"Data type error"`},
		{`FUNC "FREQ"`, "", `-224,"Illegal parameter value"`},
		{`FUNC "RES";FUNC?`, `"RES"`, ""},
		{"FETC?", "", `-230,`},
		{"ABOR 1", "", `-108,`},
		{"*IDN?\x80", "", `-101,`},
		{"", "", ""},
		{" ; ;; ", "", ""},
	} {
		r := newRig(t, 1, Scenario{})
		if got := r.say(DMM, tc.message); got != tc.answer {
			t.Errorf("%q: %q, want %q", tc.message, got, tc.answer)
		}
		if tc.err == "" {
			tc.err = `0,"No error"`
		}
		if got := r.say(DMM, "SYST:ERR?"); !strings.HasPrefix(got, tc.err) {
			t.Errorf("%q: error %s, want %s", tc.message, got, tc.err)
		}
	}
}

// scpi_ieee488.json, error_queue: on overflow the last entry becomes -350, the
// older ones stay, the newer are lost; *RST does not empty it.
func TestErrorQueueOverflow(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	for range queueLength + 5 {
		r.say(DMM, "NONSENSE")
	}
	r.say(DMM, "*RST")
	for i := range queueLength {
		want := "-113,"
		if i == queueLength-1 {
			want = `-350,"Queue overflow"`
		}
		if got := r.say(DMM, "SYST:ERR?"); !strings.HasPrefix(got, want) {
			t.Errorf("entry %d: %s", i, got)
		}
	}
	if got := r.say(DMM, "SYST:ERR?"); got != `0,"No error"` {
		t.Errorf("after the last: %s", got)
	}
}

func TestSupplyPanel(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	for _, step := range [][2]string{
		{"VOLT 12.5;CURR 500 MA;VOLT?;CURR?", "12.500;0.500"},
		{"SOUR:VOLT:LEV:IMM:AMPL?", "12.500"},
		{"VOLT? MAX", "32.000"},
		{"VOLT:PROT 15;PROT?", "15.000"},
		{"CURR:PROT 1;PROT:STAT ON;:CURR:PROT:STAT?", "1"},
		{"OUTP?", "0"}, {"OUTP 1;OUTP?", "1"}, {"OUTP:STAT OFF;STAT?", "0"},
		{"APPL 5,0.2;APPL?", "5.000,0.200"},
		{"SYST:ERR?", `0,"No error"`},
		{"VOLT 99", ""}, {"SYST:ERR?", `-222,"Data out of range"`},
	} {
		if got := r.say(Supply, step[0]); got != step[1] {
			t.Errorf("%s: %q, want %q", step[0], got, step[1])
		}
	}
	r.setUp(Supply, "VOLT:PROT 4", "OUTP ON")
	r.pass(1e9)
	if got := r.say(Supply, "OUTP?;:VOLT:PROT:TRIP?;:STAT:QUES:COND?"); got != "0;1;512" {
		t.Errorf("after an over-voltage trip: %s", got)
	}
	r.say(Supply, "OUTP ON")
	if got := r.say(Supply, "SYST:ERR?"); got != `-221,"Settings conflict"` {
		t.Errorf("on with a standing trip: %s", got)
	}
	r.setUp(Supply, "VOLT:PROT 8;:OUTP:PROT:CLE", "OUTP ON")
	r.pass(1e9)
	if got := r.say(Supply, "OUTP?;MEAS:VOLT?"); !strings.HasPrefix(got, "1;") {
		t.Errorf("cleared and on: %q", got)
	}
}

// Digits: exactly those of the resolution, exponent by range.
func TestScaledDigits(t *testing.T) {
	for _, tc := range []struct {
		v, span, resolution float64
		want                string
	}{
		{5.0123, 10, 1e-5, "+5.01230E+00"}, {-0.00012, 10, 1e-5, "-0.00012E+00"}, {0.0123456, 0.1, 1e-7, "+12.3456E-03"},
		{4712.3, 1e4, 1e-2, "+4.71230E+03"}, {0.8412, 100, 1e-4, "+0.8412E+00"}, {23.456, 1, 0.01, "+23.46E+00"}, {3.2e6, 1e7, 10, "+3.20000E+06"},
	} {
		if got := scaled(tc.v, tc.span, tc.resolution); got != tc.want {
			t.Errorf("%g on %g: %s, want %s", tc.v, tc.span, got, tc.want)
		}
	}
}

// Whatever is sent, the instrument keeps its word: printable ASCII, an error
// queue that can be read empty, and it answers afterwards.
func FuzzMessage(f *testing.F) {
	for _, s := range []string{"*IDN?", "VOLT:RANG 10;RANG?", ":::?", "*ESE #H", `FUNC "a;b"`, "VOLT?? 1,2,,", "SENS99999999999999999999:VOLT?", "APPL 1e400", "*;*;*?", "SAMP:COUN 3;:READ?"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r := newRig(t, 1, Scenario{})
		for _, name := range Instruments() {
			for _, c := range r.say(name, s) {
				if c > unicode.MaxASCII || c < ' ' {
					t.Errorf("%s answers with %q", name, c)
				}
			}
			for range queueLength + 1 {
				r.say(name, "SYST:ERR?")
			}
			if got := r.say(name, ":SYST:ERR?"); got != `0,"No error"` {
				t.Errorf("%s: the queue does not empty: %s", name, got)
			}
			if got := r.say(name, "*IDN?"); !strings.HasPrefix(got, "steadyrail,") {
				t.Errorf("%s: identity %q", name, got)
			}
		}
	})
}
