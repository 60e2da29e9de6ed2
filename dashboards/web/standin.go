package web

import "fmt"

// StandIn is the judgement on one converter that might take a dead one's place.
type StandIn struct {
	Candidate string         `json:"candidate"`
	Rail      string         `json:"rail"`
	Word      string         `json:"word"` // fits, cannot tell, does not fit, not stated
	Say       string         `json:"say"`
	Checks    []StandInCheck `json:"checks"`
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
	Wrong string // what is wrong with the text; empty: List answers it
	List  []StandIn
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
	fit := 0
	for _, c := range a.List {
		if c.Word == "fits" {
			fit++
		}
	}
	switch {
	case fit == 0:
		return "None of them may stand in", fmt.Sprintf("%d judged.", len(a.List))
	case len(a.List) == 1:
		return "It may stand in", "1 judged."
	}
	return fmt.Sprintf("%d of %d may stand in", fit, len(a.List)), fmt.Sprintf("%d judged.", len(a.List))
}
