package capture

import (
	"encoding/json"
	"fmt"
)

// ActJudge is the act of judging a converter that is to stand in for a dead one.
// Subject is the rail, Text a [StandInJudged] as JSON; see [StandInJudged.Act].
const ActJudge Verb = "judge stand-in"

// StandInJudged is what was judged of a converter before it was fitted: kept, so
// that the report shows it and a soak can be held against its estimate.
type StandInJudged struct {
	At        Instant         `json:"at,omitempty"` // of its record; not part of the act
	Candidate string          `json:"candidate"`
	Rail      string          `json:"rail"`
	Word      string          `json:"word"` // fits, cannot tell, does not fit
	Say       string          `json:"say"`
	Checks    []StandInCheck  `json:"checks"`
	Point     string          `json:"point,omitempty"`    // where its temperature is measured: "stand-in case"
	Estimate  json.RawMessage `json:"estimate,omitempty"` // of its heat; read by those who judge
	Soaked    *StandInSoaked  `json:"soaked,omitempty"`   // what the soak made of the estimate; not part of the act
}

// StandInCheck is the answer to one question about it.
type StandInCheck struct {
	Name   string   `json:"name"`
	Word   string   `json:"word"`
	Say    string   `json:"say"`
	Source []string `json:"source,omitempty"` // where its figures are from
}

// StandInSoaked is an estimate held against what was measured.
type StandInSoaked struct {
	Channel ChannelID `json:"channel,omitempty"`
	At      Instant   `json:"at,omitempty"`
	Word    string    `json:"word"`
	Say     string    `json:"say"`
}

// Act returns the act that keeps the judgement.
func (j StandInJudged) Act() (Act, error) {
	j.At, j.Soaked = 0, nil
	text, err := json.Marshal(j)
	if err != nil {
		return Act{}, fmt.Errorf("keep the judgement of %s: %w", j.Candidate, err)
	}
	return Act{Verb: ActJudge, Subject: j.Rail, Text: string(text)}, nil
}

// StandIn reads the judgement back from its act; ok is false for any other act.
func (a Act) StandIn() (j StandInJudged, ok bool) {
	if a.Verb != ActJudge || json.Unmarshal([]byte(a.Text), &j) != nil {
		return StandInJudged{}, false
	}
	return j, j.Candidate != "" && j.Say != ""
}
