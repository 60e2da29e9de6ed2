package diagnose

import "testing"

// A part is on rails by its name in any letters, an inductor and what enables a
// converter as the converter; what the sheet does not have is on none that is known.
func TestOn(t *testing.T) {
	b := Board{
		Converters: []Converter{{Name: "PS4", In: "+5", Out: "3.3", Inductor: "L4", Enable: "EN4"}},
		Loads:      []Load{{Name: "DSP", Rail: "3.3", Connector: "CN7"}},
		Capacitors: []Capacitor{{Name: "C104", Rail: "+5"}},
		Sources:    []Source{{Name: "CN1", Rail: "+5"}},
	}
	for part, want := range map[string][3]bool{ // on +5, on 3.3, known
		"c104": {true, false, true}, "PS4": {true, true, true}, "l4 ": {true, true, true}, "EN4": {true, true, true},
		"CN7": {false, true, true}, "DSP": {false, true, true}, "CN1": {true, false, true}, "R9": {}, "": {},
	} {
		five, known := b.On(part, "+5")
		three, again := b.On(part, "3.3")
		if got := [3]bool{five, three, known}; got != want || known != again {
			t.Errorf("%q: %v, want %v", part, got, want)
		}
	}
}
