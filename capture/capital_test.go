package capture

import (
	"testing"

	"pgregory.net/rapid"
)

func TestCapital(t *testing.T) {
	for s, want := range map[string]string{
		"": "", "read it": "Read it", "über alles": "Über alles", "Read it": "Read it", "−12 V": "−12 V",
		"dmm2/ohms read 4 ohm":  "dmm2/ohms read 4 ohm",
		"dmm2: no answer":       "dmm2: no answer",
		"start.csv is no table": "start.csv is no table",
		"mV are meant":          "mV are meant",
		"supply: off":           "Supply: off", // nothing shows that it is a name
		"off.":                  "Off.",
		"ms are short":          "Ms are short",
	} {
		if got := Capital(s); got != want {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
}

func TestCapitalTwiceIsOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		if once := Capital(s); Capital(once) != once {
			t.Fatalf("%q, then %q", once, Capital(once))
		}
	})
}
