package cli

import (
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func TestNegativeRailsAreNoFlags(t *testing.T) {
	for _, c := range [][2]string{
		{"enter|-12 V audio|12.01", "enter|--|-12 V audio|12.01"},
		{"enter|\u221212 V audio|-12,01|--meter|old one", "enter|--meter|old one|--|-12 V audio|-12,01"},
		{"place|dmm/volts|-12 V audio|--point|TP13|--clipped", "place|dmm/volts|--point|TP13|--clipped|--|-12 V audio"},
		{"place|dmm/volts|+5 V logic|--clipped", "place|dmm/volts|+5 V logic|--clipped"},
		{"demo|--for|20s", "demo|--for|20s"},
		{"job|note|--|-1 is a note", "job|note|--|-1 is a note"},
		{"job|open|AB-1|--rails|-12 5%, +5 2%", "job|open|AB-1|--rails|-12 5%, +5 2%"},
		{"soak|start|--for|-5s", "soak|start|--for|-5s"},
		{"place|dmm/volts|--clipped|-12 V audio", "place|dmm/volts|--clipped|--|-12 V audio"},
		{"place|dmm/volts|--try|-12 V audio", "place|dmm/volts|--try|--|-12 V audio"},
		{"check|--try|-12", "check|--try|--|-12"},
		{"enter|--no-such|-12 V audio", "enter|--no-such|--|-12 V audio"},
		{"no-such|--for|-1", "no-such|--for|--|-1"},
		{"", ""},
	} {
		got := positional(newRoot(streams{}), strings.Split(c[0], "|"))
		if want := strings.Split(c[1], "|"); !slices.Equal(got, want) {
			t.Errorf("%q became %q, want %q", c[0], got, want)
		}
	}
}

// Whatever command has a flag that stands alone: a negative rail behind it is no
// value of it, and behind every other flag it is.
func TestFlagsThatStandAlone(t *testing.T) {
	alone, takes := 0, 0
	var visit func(c *cobra.Command, path []string)
	visit = func(c *cobra.Command, path []string) {
		c.InitDefaultHelpFlag()
		c.Flags().VisitAll(func(f *pflag.Flag) {
			got := positional(newRoot(streams{}), slices.Concat(path, []string{"--" + f.Name, "-12 V audio"}))
			isBool := f.Value.Type() == "bool"
			if behind := slices.Contains(got, "--"); behind != isBool {
				t.Errorf("%s --%s: %q", strings.Join(path, " "), f.Name, got)
			}
			if isBool {
				alone++
			} else {
				takes++
			}
		})
		for _, sub := range c.Commands() {
			visit(sub, slices.Concat(path, []string{sub.Name()}))
		}
	}
	visit(newRoot(streams{}), nil)
	if alone < 20 || takes < 20 {
		t.Errorf("only %d flags stand alone and %d take a value", alone, takes)
	}
}
