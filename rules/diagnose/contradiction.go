package diagnose

import (
	"fmt"
	"strings"
)

// mostTogether is how many entries may be named as contradicting together.
const mostTogether = 4

// Contradiction is a smallest set of entries that no explanation on the sheet
// accounts for together.
type Contradiction struct {
	Entries []int  `json:"entries"`          // from 1
	Doubt   []int  `json:"doubt"`            // entries one of which alone, were it wrong, would settle everything
	Figure  bool   `json:"figure,omitempty"` // it may be a figure of the sheet that is not this board's
	Say     string `json:"say"`
}

// contradictions works on what each explanation leaves unexplained. Entries
// contradict each other when they meet every one of these sets, so the smallest
// contradictions are their minimal hitting sets; the smallest of the sets
// themselves are what must be wrong to settle it.
func contradictions(left []Set, log []Entry) []Contradiction {
	family := Minimal(left)
	if len(family) == 0 || family[0] == 0 {
		return nil
	}
	var doubt []int
	for _, f := range family {
		if f.size() == 1 {
			doubt = append(doubt, f.Members()[0]+1)
		}
	}
	var out []Contradiction
	for _, s := range HittingSets(family, mostTogether) {
		c := Contradiction{Doubt: doubt}
		for _, m := range s.Members() {
			c.Entries = append(c.Entries, m+1)
		}
		c.Say = c.sentence(log)
		out = append(out, c)
	}
	return out
}

func (c Contradiction) sentence(log []Entry) string {
	var quoted []string
	for _, n := range c.Entries {
		quoted = append(quoted, fmt.Sprintf("%d (%s)", n, log[n-1].Text))
	}
	if len(quoted) == 1 {
		return "No explanation on the sheet goes with entry " + quoted[0] + ". Read it again, or look for what the sheet does not have."
	}
	return "No explanation on the sheet goes with entries " + strings.Join(quoted, " and ") + " together. Read them again before anything else: one is wrong, the fault comes and goes, or it is not on the sheet."
}
