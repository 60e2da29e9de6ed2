package scpi

import (
	"fmt"
	"strconv"

	"steadyrail/drivers/session"
)

// unblock takes the text out of a definite length block, "#", a digit n, n
// digits that count the bytes, and the bytes (IEEE 488.2, 8.7.9, clause from memory). What does not
// begin like one is returned as it is. A block that is shorter or longer than it
// says was cut, or belongs to something else: [session.ErrMalformed]. One whose
// bytes are no text never gets here, for a link carries lines of text; a block
// without a length, "#0", is refused, because only the end of a message ends it.
func unblock(answer string) (string, error) {
	if len(answer) < 2 || answer[0] != '#' || answer[1] < '0' || answer[1] > '9' {
		return answer, nil // #H20 is a number
	}
	bad := fmt.Errorf("%w: %q: want a block of as many bytes as it says, such as #15+5.01", session.ErrMalformed, answer)
	digits := 2 + int(answer[1]-'0')
	if digits == 2 || len(answer) < digits {
		return "", bad
	}
	n, err := strconv.ParseUint(answer[2:digits], 10, 31)
	if err != nil || len(answer)-digits != int(n) {
		return "", bad
	}
	return answer[digits:], nil
}
