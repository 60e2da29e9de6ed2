package capture

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Names and figures get the minus that people read; what is pasted into a command
// keeps what is typed.
func TestReadMinus(t *testing.T) {
	for in, want := range map[string]string{
		"-12 V audio is low":                               "−12 V audio is low",
		"dmm3/volts is on -12 V audio: -12.01 V":           "dmm3/volts is on −12 V audio: −12.01 V",
		"take-in, 2031-03-12, AB-0147":                     "take-in, 2031-03-12, AB-0147",
		`put it on -12 V audio: place d "-12 V audio"`:     `put it on −12 V audio: place d "-12 V audio"`,
		`job open A --rails "+5 2%, -12 5%" for -12 V`:     `job open A --rails "+5 2%, -12 5%" for −12 V`,
		"-9 V; ask: steadyrail enter 3 -12.01; then -12 V": "−9 V; ask: steadyrail enter 3 -12.01; then −12 V",
		"steadyrail enter 3 -12.01\n-12 V audio":           "steadyrail enter 3 -12.01\n−12 V audio",
		`steadyrail place d "-12 V" -5`:                    `steadyrail place d "-12 V" -5`,
		"":                                                 "",
	} {
		if got := ReadMinus(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestMinusHTML(t *testing.T) {
	for in, want := range map[string]string{
		`<h2 title="-12 V audio" data-key="-12 V">-12 V audio</h2>`:                    `<h2 title="−12 V audio" data-key="-12 V">−12 V audio</h2>`,
		`<p>place d &#34;-12 V audio&#34;: -12 V</p>`:                                  `<p>place d &#34;-12 V audio&#34;: −12 V</p>`,
		`<code>enter 3 -12</code><pre>-1</pre><p class="quote">-3 V</p> -2`:            `<code>enter 3 -12</code><pre>-1</pre><p class="quote">-3 V</p> −2`,
		`<option>-12 V audio</option><option value="-12 V audio">-12 V audio</option>`: `<option>-12 V audio</option><option value="-12 V audio">−12 V audio</option>`,
		`<input value="-12 V audio" placeholder="-12">-12`:                             `<input value="-12 V audio" placeholder="-12">−12`,
	} {
		if got := MinusHTML(in); got != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
	}
}

// Whatever comes, only hyphens change, once, and a rail is found by both.
func TestReadMinusOnlyTurnsHyphens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOf(rapid.SampledFrom([]rune("-12 V;:(\"\nsteadyrail <>&#34"))).Draw(t, "text")
		got := ReadMinus(s)
		if strings.ReplaceAll(got, MinusSign, "-") != s || ReadMinus(got) != got {
			t.Fatalf("%q became %q", s, got)
		}
		if page := MinusHTML(s); strings.ReplaceAll(page, MinusSign, "-") != s {
			t.Fatalf("page %q became %q", s, page)
		}
	})
	sheet := Sheet{Rails: []Rail{{Name: "-12 V audio"}}}
	for _, typed := range []string{"-12 V audio", "−12 V audio", "−12 V audio"} {
		if r, err := sheet.FindRail(typed); err != nil || r.Name != "-12 V audio" {
			t.Errorf("%q: %v %v", typed, r.Name, err)
		}
	}
}
