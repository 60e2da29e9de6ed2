package frames

import (
	"fmt"
	"sort"
	"strings"

	"steadyrail/capture"
)

// Word is the text of a flag and its meaning.
type Word struct {
	Text  string
	Means string // a key of meanings
}

// meanings are what a word can say of a reading, and what is done for it.
var meanings = map[string]func(*state){
	"over_range":  func(s *state) { s.over = true },
	"under_range": func(s *state) { s.over, s.negative = true, true },
	"held":        func(s *state) { s.flags |= capture.Held },
	"low_battery": func(s *state) { s.flags |= capture.LowBattery },
	"relative":    func(s *state) { s.relative = true },
	"negative":    func(s *state) { s.negative = true },
	"ac":          func(s *state) { s.ac = true },
	"dc":          func(s *state) { s.dc = true },
	"nothing":     func(*state) {}, // auto range and other things of no consequence
}

// Meanings lists what a word can mean, in order.
func Meanings() []string {
	var out []string
	for name := range meanings {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// state is what the words of a line have said.
type state struct {
	flags                            capture.Flags
	over, negative, relative, ac, dc bool
}

func (r *lineReader) addWords(list []Word) error {
	seen := map[string]bool{}
	for _, w := range list {
		switch _, ok := meanings[w.Means]; {
		case !ok:
			return fmt.Errorf("words: %q: meaning %q is not known: use %s", w.Text, w.Means, strings.Join(Meanings(), ", "))
		case strings.TrimSpace(w.Text) != w.Text || w.Text == "":
			return fmt.Errorf("words: %q: want a text without spaces around it", w.Text)
		case seen[w.Text]:
			return fmt.Errorf("words: %q is there twice", w.Text)
		}
		seen[w.Text] = true
		r.words = append(r.words, w)
	}
	// "AUTO" must be found before "A" is taken for it.
	sort.SliceStable(r.words, func(i, j int) bool { return len(r.words[i].Text) > len(r.words[j].Text) })
	return nil
}

// say reads the words of a flags group and returns what none of them fits.
func (r *lineReader) say(s *state, text string) (rest string) {
next:
	for text = strings.TrimLeft(text, " ,;"); text != ""; text = strings.TrimLeft(text, " ,;") {
		for _, w := range r.words {
			if after, ok := strings.CutPrefix(text, w.Text); ok {
				meanings[w.Means](s)
				text = after
				continue next
			}
		}
		return text
	}
	return ""
}

// isWord reports whether the value is a word that begins like a figure: "0L".
func (r *lineReader) isWord(value string) bool {
	for _, w := range r.words {
		if w.Text == value {
			return true
		}
	}
	return false
}

// quantity turns the unit's quantity into that of the words ac and dc.
func (s *state) quantity(q capture.Quantity) (capture.Quantity, error) {
	if s.ac && s.dc {
		return 0, fmt.Errorf("%w: its display shows AC and DC at once, which is no quantity of this bench", ErrRefused)
	}
	to := q
	switch {
	case s.ac && q == capture.DCVoltage:
		to = capture.ACVoltage
	case s.ac && q == capture.DCCurrent:
		to = capture.ACCurrent
	case s.dc && q == capture.ACVoltage:
		to = capture.DCVoltage
	case s.dc && q == capture.ACCurrent:
		to = capture.DCCurrent
	}
	return to, nil
}
