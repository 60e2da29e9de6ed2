package cli

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

// Every command's help fits a terminal of 80 columns.
func TestHelpFitsATerminal(t *testing.T) {
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		var out bytes.Buffer
		c.SetOut(&out)
		if err := c.Help(); err != nil {
			t.Fatal(err)
		}
		for line := range strings.SplitSeq(out.String(), "\n") {
			if n := utf8.RuneCountInString(line); n > columns {
				t.Errorf("%s --help: %d columns: %s", c.CommandPath(), n, line)
			}
		}
		for _, sub := range c.Commands() {
			visit(sub)
		}
	}
	visit(newRoot(streams{}))
}

func TestWrappedAt(t *testing.T) {
	for _, c := range []struct {
		line, indent string
		width        int
		want         string
	}{
		{"short", "", 80, "short"},
		{"the adapter does not take a level of DTR", "  ", 30, "the adapter does not take a\n  level of DTR"},
		{"an-address-that-is-longer-than-the-line", "  ", 30, "an-address-that-is-longer-than-the-line"},
		{"±1 °C within the band of the meter's word", "", 30, "±1 °C within the band of the\nmeter's word"},
		{"a terminal of five columns is none", "", 5, "a terminal of five columns is\nnone"},
	} {
		if got := wrappedAt(c.line, c.indent, c.width); got != c.want {
			t.Errorf("%q at %d: %q, want %q", c.line, c.width, got, c.want)
		}
	}
}

// A category without its voltage is asked for the voltage, which may then come
// by itself.
func TestCategoryAnswer(t *testing.T) {
	check := categoryAnswer()
	for _, c := range []struct{ answer, good, says string }{
		{"300 V", "", "300 V"}, // of no category
		{"cat ii", "", "CAT II for how many volts?"},
		{"300", "CAT II 300 V", ""},
		{"600 V", "CAT II 600 V", ""},
		{"CAT III 600 V", "CAT III 600 V", ""},
		{"CAT III", "", "CAT III for how many volts?"},
		{"1000v", "CAT III 1000 V", ""},
		{"CAT V", "", "CAT V"},
	} {
		good, err := check(c.answer)
		if good != c.good || (err != nil) != (c.says != "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %q, %v", c.answer, good, err)
		}
	}
}
