package web

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// Isolating is what the page of isolation is drawn from, beside the bench.
type Isolating struct {
	Search *capture.FaultSearch // nil: no job is open
	Boards []BoardFile
	Wrong  string // why what was asked could not be filed, or nothing can be told
	Entry  string // what was asked, for its field
	Sheet  string
	Early  bool // it is a lift that belongs to a later stage: it may be filed all the same
}

// BoardFile is a board sheet that the workspace keeps.
type BoardFile struct {
	File  string `json:"file"` // without .yaml
	Name  string `json:"name,omitempty"`
	Rails int    `json:"rails"`
	Parts int    `json:"parts"`
	Wrong string `json:"wrong,omitempty"` // what is wrong with it
	Text  string `json:"text,omitempty"`  // the sheet
}

// isolateSentence is the news of the page.
func (v *view) isolateSentence() (say, proof string) {
	p := v.Isolating
	switch {
	case p == nil && v.HasJob:
		return "Isolate", "" // the title of a page that is being looked at
	case p == nil || p.Search == nil && p.Wrong == "":
		return "No job is open", v.instrumentsSentence()
	case p.Search == nil:
		return "Nothing can be told", p.Wrong
	}
	return p.Search.Say, ""
}

// Percent prints a share: never more sure than it is.
func (v *view) Percent(share float64) string {
	if share < 0.01 {
		return "below 1" + nbsp + "%"
	}
	return fmt.Sprintf("%.0f"+nbsp+"%%", 100*share)
}

// wordMarks are shape and colour of the ledger's words.
var wordMarks = map[string][2]string{
	"acquitted": {"m-inside", "is-inside"}, "convicted": {"m-alarm", "is-outside"}, "cannot tell": {"m-doubt", "is-doubt"},
	"something else changed": {"m-alarm", "is-outside"}, "found": {"m-inside", "is-inside"},
}

// WordMark is the shape beside a word of the ledger.
func (v *view) WordMark(word string) string {
	if m, ok := wordMarks[word]; ok {
		return m[0]
	}
	return "m-silent"
}

// WordTone is its colour.
func (v *view) WordTone(word string) string { return wordMarks[word][1] }

// Answers are what a test by hand can come to; empty: a figure is asked for.
func (v *view) Answers(line string) []string {
	verb, _, _ := strings.Cut(line, " ")
	switch verb {
	case "source", "load":
		return []string{"ok", "not ok"}
	case "enable", "behind":
		return []string{"there", "missing"}
	}
	return nil
}

// Convictable lists the lifted parts about which a finding can be filed.
func (v *view) Convictable() []string {
	var out []string
	for _, l := range v.Isolating.Search.Ledger {
		if l.AfterText != "" && !l.Back {
			out = append(out, l.Part)
		}
	}
	return out
}

// Cell finds one of the four cells of a two-by-two.
func (v *view) Cell(t capture.TwoByTwo, source, loaded string) capture.TwoByCell {
	for _, c := range t.Cells {
		if c.Source == source && c.Loaded == loaded {
			return c
		}
	}
	return capture.TwoByCell{}
}

// pairOf hands two things to a template.
type pairOf struct{ A, B any }

// Millimetres prints a place along a trace; nothing when only the order is known.
func (v *view) Millimetres(metre float64) string {
	if metre == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f"+nbsp+"mm", 1000*metre)
}

// Microvolts prints the volts of a walk.
func (v *view) Microvolts(volts float64) string { return capture.Volt.Text(volts, 1e-6) }
