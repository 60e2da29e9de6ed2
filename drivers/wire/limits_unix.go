//go:build unix

package wire

import "time"

const (
	// glanceTime is no wait at all.
	glanceTime time.Duration = 0
	// inPlace is how many unanswered bytes fit the smallest output buffer.
	inPlace = chunk
)
