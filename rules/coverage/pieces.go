package coverage

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// Pieces names how much of each part of a soak counts, the first six of many, in the
// words for a time that its page has.
func Pieces(parts []capture.SoakPart, say func(time.Duration) string) string {
	const most = 6
	var out []string
	for i, p := range parts {
		if i == most {
			out = append(out, fmt.Sprintf("%d more", len(parts)-most))
			break
		}
		out = append(out, say(p.Long()))
	}
	return capture.Listed(out)
}
