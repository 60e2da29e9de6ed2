package capture

import (
	"strings"
	"testing"
)

// TestTurner: figures with a unit are turned, what only looks like one is not,
// and a rail keeps the name it is found by.
func TestTurner(t *testing.T) {
	comma := NewTurner(Comma, []string{"+3.3 V DSP", "-1.8 V"})
	for text, want := range map[string]string{
		"4.98 V":                             "4,98 V",
		"Low by 0.12\u00a0V: turn up.":       "Low by 0,12\u00a0V: turn up.",
		"4.90 to 5.10 V":                     "4,90 to 5,10 V",
		"0.2 to 0.6 s, 12.5 %":               "0,2 to 0,6 s, 12,5 %",
		"5.012 ± 0.003 V":                    "5,012 ± 0,003 V",
		"0.47&nbsp;Ω":                        "0,47&nbsp;Ω",
		"12.3mV and 61.0 °C":                 "12,3mV and 61,0 °C",
		"+3.3 V DSP is low: 3.101 V":         "+3.3 V DSP is low: 3,101 V",
		"&#43;3.3\u00a0V\u00a0DSP, 3.101 V":  "&#43;3.3\u00a0V\u00a0DSP, 3,101 V",
		"\u22121.8 V has \u22121.79 V":       "\u22121.8 V has \u22121,79 V",
		"listens on 127.0.0.1:8470":          "listens on 127.0.0.1:8470",
		"IEC 60950-1, 2.1.1.7; clause 7.8":   "IEC 60950-1, 2.1.1.7; clause 7.8",
		"version v1.26, engine 5.0":          "version v1.26, engine 5.0",
		"file AB-0147.5 and tmp/1.5 V":       "file AB-0147.5 and tmp/1.5 V",
		"at 14:02:03.5 s":                    "at 14:02:03.5 s",
		"3.5 inches, 2.5 Vikings, 1.5 seats": "3.5 inches, 2.5 Vikings, 1.5 seats",
		"ends with 5.":                       "ends with 5.",
		"":                                   "",
	} {
		if got := comma.Text(text); got != want {
			t.Errorf("%q turned to %q, want %q", text, got, want)
		}
		if got := (Turner{}).Text(text); got != text {
			t.Errorf("a bench with points turned %q to %q", text, got)
		}
	}
	for text, want := range map[string]string{".012": ",012", " 4.90 ": " 4,90 ", "\u22120.5": "\u22120,5", "2.6.1": "2.6.1", "TP5.1": "TP5.1", "3.3 V": "3,3 V", "5": "5", "": "", ".": "."} {
		if got := comma.Bare(text); got != want {
			t.Errorf("bare %q turned to %q, want %q", text, got, want)
		}
	}
}

// FuzzTurner: only points between digits ever change, and only to commas.
func FuzzTurner(f *testing.F) {
	f.Add("4.90 to 5.10 V, +3.3 V DSP")
	f.Fuzz(func(t *testing.T, s string) {
		got := NewTurner(Comma, []string{"+3.3 V DSP"}).Text(s)
		if len(got) != len(s) || strings.ReplaceAll(got, ",", ".") != strings.ReplaceAll(s, ",", ".") {
			t.Fatalf("%q became %q", s, got)
		}
	})
}

// TestTurnerHTML: text and what is read out are turned; markup, programs and what
// a person typed are not.
func TestTurnerHTML(t *testing.T) {
	comma := NewTurner(Comma, []string{"+3.3 V DSP"})
	for page, want := range map[string]string{
		`<b>4.98 V</b>`: `<b>4,98 V</b>`,
		`<span class="int">5</span><span class="frac">.012</span>`:       `<span class="int">5</span><span class="frac">,012</span>`,
		`<svg viewBox="0 0 1.5 2"><text x="1.5">4.90</text></svg>`:       `<svg viewBox="0 0 1.5 2"><text x="1.5">4,90</text></svg>`,
		`<p title="down to 3.087 V" id="a1.5 V">x</p>`:                   `<p title="down to 3,087 V" id="a1.5 V">x</p>`,
		`<p class="quote">he <p>said</p> 4.98 V</p><p>4.98 V</p>`:        `<p class="quote">he <p>said</p> 4.98 V</p><p>4,98 V</p>`,
		`<script>if (1 < 2) x = "4.98 V"</script>4.98 V`:                 `<script>if (1 < 2) x = "4.98 V"</script>4,98 V`,
		`<textarea>rail: 4.98 V</textarea><!-- 1.5 V > --><i>1.5&nbsp;V`: `<textarea>rail: 4.98 V</textarea><!-- 1.5 V > --><i>1,5&nbsp;V`,
		`<a href="/rail/+3.3%20V">&#43;3.3` + "\u00a0V\u00a0DSP</a>":     `<a href="/rail/+3.3%20V">&#43;3.3` + "\u00a0V\u00a0DSP</a>",
		`<input value="0.5 V" placeholder="5.02">`:                       `<input value="0.5 V" placeholder="5.02">`,
		`<`: `<`, `a<b`: `a<b`, `<p class="quote">`: `<p class="quote">`,
	} {
		if got := comma.HTML(page); got != want {
			t.Errorf("%s\n got %s\nwant %s", page, got, want)
		}
	}
}

// FuzzTurnerHTML: whatever a page is, it keeps its length and loses only points.
func FuzzTurnerHTML(f *testing.F) {
	f.Add(`<p class="quote">4.98 V</p><b title="1.5 V">2.5 V</b>`)
	f.Fuzz(func(t *testing.T, s string) {
		got := NewTurner(Comma, nil).HTML(s)
		if len(got) != len(s) || strings.ReplaceAll(got, ",", ".") != strings.ReplaceAll(s, ",", ".") {
			t.Fatalf("%q became %q", s, got)
		}
	})
}
