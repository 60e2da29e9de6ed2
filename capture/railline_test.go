package capture_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const pianoRails = "+5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP"

func mustRails(t *testing.T, line string) []capture.Rail {
	t.Helper()
	rails, err := capture.ParseRails(line)
	if err != nil {
		t.Fatal(err)
	}
	return rails
}

func TestParseRailsOfTheStagePiano(t *testing.T) {
	rails := mustRails(t, pianoRails)
	want := []struct {
		name               string
		nominal, low, high float64
	}{
		{"+5 V logic", 5, 4.9, 5.1},
		{"+12 V audio", 12, 11.4, 12.6},
		{"-12 V audio", -12, -12.6, -11.4},
		{"+3.3 V DSP", 3.3, 3.201, 3.399},
	}
	if len(rails) != len(want) {
		t.Fatalf("%d rails, want %d", len(rails), len(want))
	}
	for i, w := range want {
		r := rails[i]
		// Equality on purpose: the bounds are the float64 nearest to the decimal edge.
		if r.Name != w.name || r.Nominal != w.nominal || r.Target != w.nominal || r.Bounds.Low != w.low || r.Bounds.High != w.high {
			t.Errorf("rail %d is %+v, want %+v", i, r, w)
		}
		if r.ShortBelow != capture.DefaultShortBelow || r.Return != "0 V" {
			t.Errorf("%s: short below %g, return %q", r.Name, r.ShortBelow, r.Return)
		}
		if err := r.Validate(); err != nil {
			t.Error(err)
		}
	}
}

func TestParseRailsForms(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		line      string
		mark      capture.DecimalMark
		name      string
		low, high float64
	}{
		{"+5 2%", capture.Point, "+5 V", 4.9, 5.1},
		{"5V 2 %", capture.Point, "+5 V", 4.9, 5.1},
		{"+5 V ± 2% logic", capture.Point, "+5 V logic", 4.9, 5.1},
		{"5.0 ±2%", capture.Point, "+5 V", 4.9, 5.1},
		{"+5 logic 2%", capture.Point, "+5 V logic", 4.9, 5.1},
		{"\u221212 5% audio", capture.Point, "-12 V audio", -12.6, -11.4},
		{"+5 0.1V", capture.Point, "+5 V", 4.9, 5.1},
		{"+5 100mV", capture.Point, "+5 V", 4.9, 5.1},
		{"+5 0.1 V logic", capture.Point, "+5 V logic", 4.9, 5.1},
		{"+5 >4.75V", capture.Point, "+5 V", 4.75, inf},
		{"+5 <5.25V", capture.Point, "+5 V", -inf, 5.25},
		{"+5 > 4.75 V < 5.25 V", capture.Point, "+5 V", 4.75, 5.25},
		{"+5 >=4.75", capture.Point, "+5 V", 4.75, inf},
		{"-12 >-12.6V <-11V", capture.Point, "-12 V", -12.6, -11},
		{"900mV 3% core", capture.Point, "+0.9 V core", 0.873, 0.927},
		{"+5 ? logic", capture.Point, "+5 V logic", -inf, inf},
		{"+5 2% logic board 2", capture.Point, "+5 V logic board 2", 4.9, 5.1},
		{"3,3 3%", capture.Comma, "+3.3 V", 3.201, 3.399},
		{"3,3 3% ; ", capture.Point, "+3.3 V", 3.201, 3.399},
		{"5 >4,75V", capture.Comma, "+5 V", 4.75, inf},
		{"5 1,5%,", capture.Comma, "+5 V", 4.925, 5.075},
	} {
		rails, err := capture.ParseRailsMark(c.line, c.mark)
		if err != nil || len(rails) != 1 {
			t.Errorf("%q: %d rails, %v", c.line, len(rails), err)
			continue
		}
		if r := rails[0]; r.Name != c.name || r.Bounds.Low != c.low || r.Bounds.High != c.high {
			t.Errorf("%q: %s from %v to %v, want %s from %v to %v", c.line, r.Name, r.Bounds.Low, r.Bounds.High, c.name, c.low, c.high)
		}
	}
}

func TestParseRailsCommasPart(t *testing.T) {
	for _, c := range []struct {
		line  string
		mark  capture.DecimalMark
		names []string
	}{
		{"3,3 3%; +5 2%", capture.Comma, []string{"+3.3 V", "+5 V"}},
		{"3,3 3%, +5 2%", capture.Comma, []string{"+3.3 V", "+5 V"}},
		{"3,3 3%; +5 2%", capture.Point, []string{"+3.3 V", "+5 V"}}, // the semicolon tells
		{"+5 2%,+12 5%", capture.Point, []string{"+5 V", "+12 V"}},
		{"+5 2%,12 5%", capture.Comma, []string{"+5 V", "+12 V"}},
	} {
		rails, err := capture.ParseRailsMark(c.line, c.mark)
		if err != nil {
			t.Errorf("%q: %v", c.line, err)
			continue
		}
		var names []string
		for _, r := range rails {
			names = append(names, r.Name)
		}
		if !slices.Equal(names, c.names) {
			t.Errorf("%q: %q, want %q", c.line, names, c.names)
		}
	}
}

func TestParseRailsOptions(t *testing.T) {
	r := mustRails(t, "+5 2% logic target=5.05V short < 1 ohm reset<4.65V load>100mA at=TP5 side=secondary")[0]
	if r.Name != "+5 V logic" || r.Target != 5.05 || r.ShortBelow != 1 || r.ResetBelow != 4.65 || r.MinLoad != 0.1 || r.Point != "TP5" || r.Side != capture.Secondary {
		t.Errorf("%+v", r)
	}
}

func TestParseRailsRefuses(t *testing.T) {
	for _, c := range []struct {
		line, says string
		part       string
	}{
		{"", "none on the line", ""},
		{" , ", "nothing between", "part 1"},
		{"+5 2%, , +12 5%", "nothing between", "part 2"},
		{"+5", "how far may it be off", "part 1"},
		{"+5 2%, +12 audio", "how far may it be off", "part 2"},
		{"3,3 3%", "how far may it be off", "part 1"}, // a decimal comma under the point
		{"logic 2%", "begin with the nominal voltage", "part 1"},
		{"+5 2", "what is 2", "part 1"},
		{"+5 2% 3%", "two allowances", "part 1"},
		{"+5 2% >4.75V", "two allowances", "part 1"},
		{"+5 >4.75V 2%", "two allowances", "part 1"},
		{"+5 >4.75V >4.8V", "two allowances", "part 1"},
		{"+5 ? >4.75V", "two allowances", "part 1"},
		{"+5 0%", "above 0%", "part 1"},
		{"+5 100%", "below 100%", "part 1"},
		{"+5 -2%", "above 0%", "part 1"},
		{"+5 6V", "less than the nominal", "part 1"},
		{"0 2%", "a return", "part 1"},
		{"+5 2%, 5.0 3%", "there twice", "part 2"},
		{"+5 2% Logic, +5 2% logic", "there twice", "part 2"},
		{"+5 >5.1V", "outside its own bounds", "part 1"},
		{"-12 >11.4V", "keep their sign", "part 1"},
		{"+5 2% target=6V", "outside its own bounds", "part 1"},
		{"+5 2% side=left", "mains or secondary", "part 1"},
		{"+5 2% colour=red", "unknown option", "part 1"},
		{"+5 2% short<-1ohm", "write 4.7", "part 1"},
		{"+5 2% at=", "test point", "part 1"},
		{"+5 ±", "neither", "part 1"},
		{"1e9 2%", "no board", "part 1"},
		{"+5 2% \x00", "no text", ""},
		{"+5 2% " + strings.Repeat("x", 80), "longer than", "part 1"},
		{strings.Repeat("+5 2%,", 65), "at most 64", ""},
	} {
		rails, err := capture.ParseRails(c.line)
		if !errors.Is(err, capture.ErrNotRails) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), c.part) || rails != nil {
			t.Errorf("%.30q: %v, want a refusal that says %q of %q", c.line, err, c.says, c.part)
		}
	}
}

func TestFormatRails(t *testing.T) {
	if got := capture.FormatRails(mustRails(t, pianoRails)); got != "+5 2% logic, +12 5% audio, -12 5% audio, +3.3 3% DSP" {
		t.Errorf("the piano's rails: %q", got)
	}
	for _, line := range []string{"+5 0.013V", "+5 >4.75V", "-12 >-12.6V <-11V", "+5 ?", "+5 2% logic target=5.05V short<1ohm reset<4.65V load>0.1A at=TP5 side=mains"} {
		if got := capture.FormatRails(mustRails(t, line)); got != line {
			t.Errorf("%q became %q", line, got)
		}
	}
}

// railGen draws rails as ParseRails could have made them.
func railGen() *rapid.Generator[capture.Rail] {
	return rapid.Custom(func(t *rapid.T) capture.Rail {
		nominal := float64(rapid.IntRange(1, 400_000).Draw(t, "millivolts")) / 1000
		low := nominal - float64(rapid.IntRange(1, 1000).Draw(t, "below"))/1e4*nominal
		high := nominal + float64(rapid.IntRange(1, 1000).Draw(t, "above"))/1e4*nominal
		if rapid.Bool().Draw(t, "negative") {
			nominal, low, high = -nominal, -high, -low
		}
		b := capture.Bounds{Low: low, High: high}
		switch rapid.IntRange(0, 4).Draw(t, "open") {
		case 0:
			b.Low = math.Inf(-1)
		case 1:
			b.High = math.Inf(1)
		case 2:
			b = capture.NoBounds()
		}
		return capture.Rail{
			Name: mustStem(nominal) + rapid.StringMatching(`( [a-zA-Z][a-z0-9]{1,8}){0,2}`).Draw(t, "words"), Nominal: nominal, Target: nominal, Bounds: b, Return: "0 V",
			ShortBelow: float64(rapid.IntRange(0, 1000).Draw(t, "short")) / 100,
			ResetBelow: float64(rapid.IntRange(0, 1000).Draw(t, "reset")) / 100,
			MinLoad:    float64(rapid.IntRange(0, 1000).Draw(t, "load")) / 1000,
			Point:      rapid.StringMatching(`|TP[0-9]{1,2}`).Draw(t, "point"),
			Side:       rapid.SampledFrom([]capture.Side{"", capture.Mains, capture.Secondary}).Draw(t, "side"),
		}
	})
}

func mustStem(nominal float64) string {
	line := capture.FormatRails([]capture.Rail{{Nominal: nominal, Target: nominal, Bounds: capture.NoBounds(), ShortBelow: capture.DefaultShortBelow}})
	rails, err := capture.ParseRails(line)
	if err != nil {
		panic(err)
	}
	return rails[0].Name
}

func TestRailsParseAfterPrint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := railGen().Draw(t, "rail")
		line := capture.FormatRails([]capture.Rail{r})
		back, err := capture.ParseRails(line)
		if err != nil || len(back) != 1 {
			t.Fatalf("%q: %v", line, err)
		}
		if capture.FormatRails(back) != line || !sameRail(back[0], r) {
			t.Fatalf("%q: %+v came back as %+v", line, r, back[0])
		}
	})
}

func sameRail(a, b capture.Rail) bool {
	return a.Name == b.Name && a.Nominal == b.Nominal && a.Target == b.Target && a.Bounds == b.Bounds && a.Return == b.Return && a.Point == b.Point &&
		a.Side == b.Side && a.ShortBelow == b.ShortBelow && a.ResetBelow == b.ResetBelow && a.MinLoad == b.MinLoad
}

func FuzzParseRails(f *testing.F) {
	for _, s := range []string{pianoRails, "3,3 3%; +5 2%", "+5 >4.75V short<1ohm", "+5 ±", "-12 ? a=b", "+5 2% at=,", "+5 +-%", "1e6 1e-9%"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, line string, comma bool) {
		mark := capture.Point
		if comma {
			mark = capture.Comma
		}
		rails, err := capture.ParseRailsMark(line, mark)
		if err != nil {
			if !errors.Is(err, capture.ErrNotRails) || rails != nil {
				t.Fatalf("%q: %v", line, err)
			}
			return
		}
		for _, r := range rails {
			if err := r.Validate(); err != nil {
				t.Fatalf("%q: %v", line, err)
			}
		}
		printed := capture.FormatRails(rails)
		back, err := capture.ParseRails(printed)
		if err != nil || !slices.EqualFunc(back, rails, sameRail) {
			t.Fatalf("%q printed as %q, read as %+v, %v", line, printed, back, err)
		}
	})
}
