package diagnose

import (
	"math"
	"testing"
)

// Two faults that leave something over give way to what is not on the sheet;
// nothing else is touched.
func TestTemper(t *testing.T) {
	list := func(faults int, other float64) []Ranked {
		return []Ranked{{Explanation: Explanation{Faults: make([]Fault, faults)}, P: 0.7}, {Explanation: Explanation{Faults: make([]Fault, 1)}, P: 0.3 - other}, {Explanation: Explanation{Other: true}, P: other}}
	}
	for _, c := range []struct {
		name         string
		faults       int
		contradicted bool
		tempered     bool
	}{{"two, contradicted", 2, true, true}, {"two", 2, false, false}, {"one, contradicted", 1, true, false}, {"none, contradicted", 0, true, false}} {
		got := temper(list(c.faults, 0.05), c.contradicted)
		var sum float64
		for _, x := range got {
			sum += x.P
		}
		if math.Abs(sum-1) > 1e-12 || len(got) != 3 || got[0].Other != c.tempered || c.tempered && (got[0].P != OtherContradicted || len(got[1].Faults) != 2 || got[1].P <= got[2].P) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}
