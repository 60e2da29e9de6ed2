package capture

import (
	"fmt"
	"strconv"
	"strings"
)

// RegimenKeys are what a plan of a soak is typed with, in a form and on a command
// line alike.
var RegimenKeys = []string{"for", "warm", "cycles", "on", "off", "output", "steps", "load", "loads", "each", "back"}

// TypedRegimen reads a plan from the texts of [RegimenKeys]: "24 h", "10",
// "9 V, 12 V, 15 V". What is empty is left out of it.
func TypedRegimen(text func(key string) string) (Regimen, error) {
	r := Regimen{Output: strings.TrimSpace(text("output")), Load: strings.TrimSpace(text("load"))}
	seconds := func(to *float64) func(string) error {
		return func(s string) error {
			d, err := ParseLength(s)
			*to = d.Seconds()
			return err
		}
	}
	list := func(to *[]float64, u Unit) func(string) error {
		return func(s string) error {
			for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ';' || r == ',' }) {
				v, _, err := u.ParseTyped(strings.TrimSpace(part), Point)
				if err != nil {
					return err
				}
				*to = append(*to, v)
			}
			return nil
		}
	}
	for _, part := range []struct {
		key  string
		read func(string) error
	}{
		{"for", seconds(&r.For)}, {"warm", seconds(&r.Warm)}, {"on", seconds(&r.On)}, {"off", seconds(&r.Off)}, {"each", seconds(&r.Each)},
		{"cycles", into(&r.Cycles, strconv.Atoi)}, {"steps", list(&r.Steps, Volt)}, {"loads", list(&r.Loads, Ampere)},
		{"back", func(s string) (err error) { r.Back, _, err = Volt.ParseTyped(s, Point); return err }},
	} {
		if s := strings.TrimSpace(text(part.key)); s != "" {
			if err := part.read(s); err != nil {
				return Regimen{}, fmt.Errorf("%s: %w", part.key, err)
			}
		}
	}
	return r, r.Check()
}
