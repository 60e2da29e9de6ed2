package web

import (
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
)

// StandIn is the judgement on one converter that might take a dead one's place.
type StandIn struct {
	Candidate string         `json:"candidate"`
	Rail      string         `json:"rail"`
	Word      string         `json:"word"` // fits, cannot tell, does not fit, not stated
	Say       string         `json:"say"`
	Checks    []StandInCheck `json:"checks"`
	Estimate  any            `json:"estimate,omitempty"` // of its heat, for the soak; not there when a figure for it is missing
	Point     string         `json:"point,omitempty"`    // where its temperature is to be measured
}

// StandInTaken is a figure that a job's record holds, or why it does not.
type StandInTaken struct {
	Key    string  `json:"key"`
	Value  float64 `json:"value"`       // base unit
	U      float64 `json:"u,omitempty"` // expanded uncertainty
	Source string  `json:"source,omitempty"`
	Say    string  `json:"say"`
}

// StandInCheck is the answer to one question about it.
type StandInCheck struct {
	Name   string   `json:"name"`
	Word   string   `json:"word"`
	Value  float64  `json:"value"` // base unit
	Limit  float64  `json:"limit"` // base unit
	Unit   string   `json:"unit,omitempty"`
	Say    string   `json:"say"`
	Basis  string   `json:"basis,omitempty"` // the formula, and according to whom
	Source []string `json:"source,omitempty"`
}

// StandInAnswer is what was pasted into the form, and what came of it.
type StandInAnswer struct {
	Text  string
	Job   string // whose measured figures were asked for; "": none
	Wrong string // what is wrong with the text; empty: List answers it
	List  []StandIn
	Taken []StandInTaken // from the job
	Kept  []string       // what was recorded
}

// Mark is the shape beside a word of a check.
func (c StandInCheck) Mark() string {
	switch c.Word {
	case "fits":
		return "m-inside"
	case "does not fit":
		return "m-alarm"
	case "cannot tell":
		return "m-doubt"
	}
	return "m-silent" // not stated, not checked, not needed
}

// Class is the colour of its shape; none where nothing was judged.
func (c StandInCheck) Class() string {
	return map[string]string{"fits": "is-inside", "does not fit": "is-outside", "cannot tell": "is-doubt"}[c.Word]
}

// standInSentence is the news of the page: how many may.
func (v *view) standInSentence() (say, proof string) {
	a := v.StandIn
	switch {
	case a == nil:
		return "May a converter stand in?", "Paste what the board asks for and what is stated of the candidates."
	case a.Wrong != "":
		return "The text cannot be read", "Nothing was judged."
	}
	fit, open := 0, 0
	for _, c := range a.List {
		switch c.Word {
		case "fits":
			fit++
		case "cannot tell", "not stated":
			open++
		}
	}
	proof = fmt.Sprintf("%d judged.", len(a.List))
	switch {
	case fit == 0 && open > 0:
		return fmt.Sprintf("Cannot tell of %d of %d", open, len(a.List)), proof + " What is open stands below."
	case fit == 0:
		return "None of them may stand in", proof
	case len(a.List) == 1:
		return "It may stand in", proof
	}
	return fmt.Sprintf("%d of %d may stand in", fit, len(a.List)), proof
}

// StandInGroup is the answers of one word, under a title that says it.
type StandInGroup struct {
	Title  string
	Checks []StandInCheck
}

// Mark and Class are those of its checks.
func (g StandInGroup) Mark() string  { return g.Checks[0].Mark() }
func (g StandInGroup) Class() string { return g.Checks[0].Class() }

// Groups are the answers by word: what speaks against first, then what is open,
// then what is right.
func (s StandIn) Groups() (out []StandInGroup) {
	for _, g := range []struct{ word, title string }{
		{"does not fit", "Does not fit"}, {"cannot tell", "Cannot tell"}, {"not stated", "Not stated: cannot judge"}, {"fits", "Fits"}, {"not checked", "Not checked"},
	} {
		if checks := s.of(g.word); len(checks) > 0 {
			out = append(out, StandInGroup{g.title, checks})
		}
	}
	return out
}

// Idle are the questions that need no answer.
func (s StandIn) Idle() []StandInCheck { return s.of("not needed") }

func (s StandIn) of(word string) (out []StandInCheck) {
	for _, c := range s.Checks {
		if c.Word == word {
			out = append(out, c)
		}
	}
	return out
}

// Told is the sentence of a check, without what its group's title says already,
// and with figures tied to their units.
func (c StandInCheck) Told() string {
	say := strings.TrimPrefix(c.Say, "Not stated: cannot judge. ")
	return glue(capture.Capital(say))
}

// takenNames are the figures of a need in words.
var takenNames = map[string]string{"load": "Load", "peak": "Peak of the load", "least": "Least load", "in_low": "Lowest input", "in_high": "Highest input", "ambient": "Air beside it", "dip": "Dip it bears"}

// Name is the figure in words.
func (t StandInTaken) Name() string { return takenNames[t.Key] }

// Figure is its value with its uncertainty; empty when it is not stated.
func (t StandInTaken) Figure() string {
	if t.Source == "" {
		return ""
	}
	unit := capture.Ampere
	switch {
	case t.Key == "ambient":
		unit = capture.Celsius
	case slices.Contains([]string{"in_low", "in_high", "dip"}, t.Key):
		unit = capture.Volt
	}
	say := unit.Text(t.Value, 0.01)
	if t.U > 0 {
		say += " ± " + unit.Text(t.U, 0.01)
	}
	return strings.ReplaceAll(say, " ", nbsp)
}

// StandInsKept are the judgements that a job's record keeps.
type StandInsKept struct {
	Job  string
	List []capture.StandInJudged
}

// KeptRow is one of them with what the soak made of its estimate of heat.
type KeptRow struct {
	StandInCheck
	Soak string
}

// Rows are they, in the order of the record.
func (k StandInsKept) Rows() (out []KeptRow) {
	for _, j := range k.List {
		row := KeptRow{StandInCheck: StandInCheck{Name: j.Candidate, Word: j.Word, Say: j.Say}, Soak: "No point was named at which its temperature is measured."}
		if j.Soaked != nil {
			row.Soak = glue(capture.Capital(j.Soaked.Word) + ". " + j.Soaked.Say)
		}
		out = append(out, row)
	}
	return out
}
