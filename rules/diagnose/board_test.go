package diagnose

import (
	"testing"

	"steadyrail/capture"
)

// piano is the supply board of the Alderbrook 88, as its sheet has it.
func piano(t testing.TB) Board {
	t.Helper()
	rails, err := capture.ParseRails("+18 20% raw at=TP1, -18 20% raw at=TP2, +5 2% logic at=TP5, +12 5% audio at=TP3, -12 5% audio at=TP4, 3.3 3% DSP at=TP6")
	if err != nil {
		t.Fatal(err)
	}
	name := func(i int) string { return rails[i].Name }
	return Board{
		Name:    "Alderbrook 88 supply",
		Rails:   rails,
		Sources: []Source{{"BR1", name(0)}, {"BR2", name(1)}},
		Converters: []Converter{
			{Name: "PS2", In: name(0), Out: name(2), Enable: "STBY", Inductor: "L2", Ohms: 600, InOhms: 8000},
			{Name: "PS1", In: name(0), Out: name(3), Ohms: 900, InOhms: 9000},
			{Name: "PS3", In: name(1), Out: name(4), Ohms: 900, InOhms: 9000},
			{Name: "PS4", In: name(2), Out: name(5), Enable: "EN4", Ohms: 400, InOhms: 3000},
		},
		Loads: []Load{
			{"logic board", name(2), "CN3", 220}, {"main logic", name(2), "", 470},
			{"audio board +", name(3), "CN5", 350}, {"audio board -", name(4), "CN5", 380}, {"DSP", name(5), "", 90},
		},
		Capacitors: []Capacitor{{"C101", name(0)}, {"C104", name(2)}, {"C121", name(3)}, {"C122", name(4)}, {"C110", name(5)}},
	}
}
