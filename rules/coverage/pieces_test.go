package coverage

import (
	"testing"

	"steadyrail/capture"
)

func TestPieces(t *testing.T) {
	for n, want := range map[int]string{0: "", 1: "1 s", 2: "1 s and 2 s", 3: "1 s, 2 s and 3 s", 6: "1 s, 2 s, 3 s, 4 s, 5 s and 6 s", 9: "1 s, 2 s, 3 s, 4 s, 5 s, 6 s and 3 more"} {
		var parts []capture.SoakPart
		for i := range n {
			parts = append(parts, capture.SoakPart{From: 1, To: 1 + capture.Instant(i+1)*1_000_000})
		}
		if got := Pieces(parts, Long); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
