package dashboards

import (
	"context"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

var unusedPaper = []capture.UnusedReading{
	{At: 4, Because: "the ohms were never steady", Say: "+12 V audio: the ohms were never steady"},
	{At: 5, Because: "the rail was under power", Say: "+12 V audio: ohms under power mean nothing"},
	{At: 6, Because: "the rail was under power", Say: "+5 V logic: ohms under power mean nothing"},
}

// PaperIsolator answers everything with one filled example.
type PaperIsolator struct{}

func (PaperIsolator) Search(context.Context, string) (capture.FaultSearch, error) {
	return PaperSearch(), nil
}
func (PaperIsolator) File(_ context.Context, job string, ask IsolateAsk) (Result, error) {
	if ask.Entry == "lift X" {
		return Result{}, &Error{Kind: Invalid, Detail: "isolate: there is no X"}
	}
	if ask.Entry == "lift C105" && !ask.Sure {
		return Result{}, &Error{Kind: Conflict, Detail: "lift C105", Err: ErrLiftedEarly}
	}
	return Result{Job: job, Say: "Filed: " + ask.Entry + ask.Finding + ask.Anew}, nil
}
func (PaperIsolator) Boards(context.Context) ([]web.BoardFile, error) {
	return []web.BoardFile{{File: "supply", Name: "supply board", Rails: 6, Parts: 16, Text: "t"}, {File: "torn", Wrong: "w"}}, nil
}
func (p PaperIsolator) Board(context.Context, string) (web.BoardFile, error) {
	list, err := p.Boards(context.Background())
	return list[0], err
}

// PaperSearch is an isolation with every member filled.
func PaperSearch() capture.FaultSearch {
	cells := []capture.TwoByCell{
		{Source: "ok", Loaded: "ok", Say: "Look between them: connector, wires, start-up, current limit."}, {Source: "ok", Loaded: "not ok", Say: "Repair logic board."},
		{Source: "not ok", Loaded: "ok", Say: "Repair the source, or what feeds and enables it.", Open: true, Here: true}, {Source: "not ok", Loaded: "not ok", Say: "Two faults, or one took the other with it."},
	}
	return capture.FaultSearch{
		Job: "AB-0147", Board: "supply board", Say: "PS2 is convicted: it carries the short of +5 V logic", Since: 1,
		TwoByTwo: []capture.TwoByTwo{{Rail: "+5 V logic", Source: "not ok", Load: "logic board", Loaded: "ok", Say: "+5 V logic: the source is not right alone, logic board is. Repair the source, or what feeds and enables it.", Cells: cells},
			{Rail: "+12 V audio", Source: "ok", Say: "+12 V audio: source alone is ok; no load was tried alone.", Cells: []capture.TwoByCell{{Source: "ok", Loaded: "ok", Say: "Look between them.", Open: true}, {Source: "ok", Loaded: "not ok", Say: "Repair the load.", Open: true}},
				Try: []capture.TryingTest{{Line: "load audio board plus", Say: "audio board plus alone, from the bench supply"}}}},
		Ledger: []capture.LedgerLine{
			{At: 2, Part: "CN3", Rail: "+5 V logic", Before: 0.843, After: 0.847, Share: 0.005, Low: -0.01, High: 0.02, Word: "acquitted", Say: "Acquitted: no more than 1.7 % of the conductance left: what was lifted does not carry the short.", BeforeText: "0.843 Ω", AfterText: "0.847 Ω", Back: true, Could: "c", Change: "With CN3 back +5 V logic reads 0.5 Ω, before the lift 0.84 Ω: something else changed."},
			{At: 3, Part: "PS2", Rail: "+5 V logic", Before: 0.843, After: 149, Open: true, Alone: 0.83, Share: 0.994, Low: 0.98, High: 1, Word: "convicted", Say: "Convicted: 99.4 % of the conductance left (98 to 100 %), and by itself it reads 0.83 Ω.", BeforeText: "0.843 Ω", AfterText: "149.1 Ω"},
		},
		Limits:         []capture.LiftLimit{{Rail: "+5 V logic", Standing: 0.3, Highest: 0.97, Say: "+5 V logic stands at 0.30 Ω: a lift can tell a branch only below 0.97 Ω; use four wires, or walk the short."}},
		Explanations:   []capture.IsolateExplanation{{Say: "the output of PS2 is shorted inside it", Share: 0.91, Faults: []capture.IsolateFault{{Part: "PS2", Kind: "shorted"}}}, {Say: "something that is not on the sheet", Share: 0.05, Other: true}, {Say: "C104 is shorted", Share: 0.008, Faults: []capture.IsolateFault{{Part: "C104", Kind: "shorted"}}}},
		Next:           &capture.NextEntry{Say: "Power off and discharged, lift one leg of C104, then read the ohms of +5 V logic at TP5: if it rises, C104 carried the fault; if not, it is cleared.", Why: "It is worth the most for its time: about 0.4 bit in 5.3 min.", Could: "A lift can tell a branch only below 0.97 Ω; use four wires, or walk the short.", Minutes: 5.3, Bits: 0.4, Lift: "C104", Line: "source x"},
		Contradictions: []string{"No explanation on the sheet goes with entries 3 (+5 V logic 0.84 Ω) and 5 (+5 V logic 148 Ω) together. Read them again before anything else."},
		Figures:        []string{"+5 V logic reads 400 Ω with PS2 off; by the sheet logic board 220 Ω and main logic 2.20 kΩ stay on it, together 200 Ω."},
		Walks:          []capture.ShortWalk{{Rail: "+5 V logic", Word: "found", Say: "The drop ends 57 mm from TP5 (95 %: 56 mm to 58 mm): the short lies between C104 and CN3.", Between: []string{"C104", "CN3"}, At: 0.057, Low: 0.056, High: 0.058, Points: []capture.WalkPoint{{Name: "TP5", Volts: 0.001, N: 9}, {Name: "C104", At: 0.04, Volts: 0.0197, N: 9}}}},
		Off:            []string{"PS2"}, Unused: unusedPaper, UnusedBy: capture.GroupUnused(unusedPaper), Sensitivity: "The first place holds.", Trust: "Of 1000 simulated boards …", Minutes: 9, Entries: []string{"+5 V logic 0.84 Ω"},
	}
}
