package capture_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// Every quantity has words of its own, and none of them is a name out of a file.
func TestQuantitiesHaveWords(t *testing.T) {
	seen := map[string]capture.Quantity{}
	for _, q := range append(capture.Quantities(), capture.NoQuantity) {
		words := q.Words()
		if other, twice := seen[words]; twice || words == "" || strings.Contains(words, "_") {
			t.Errorf("%s: %q, which %s has, too: %v", q, words, other, twice)
		}
		seen[words] = q
	}
}
