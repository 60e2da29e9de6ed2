package cli

import (
	"slices"
	"strings"
	"testing"
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
		{"", ""},
	} {
		got := positional(strings.Split(c[0], "|"))
		if want := strings.Split(c[1], "|"); !slices.Equal(got, want) {
			t.Errorf("%q became %q, want %q", c[0], got, want)
		}
	}
}
