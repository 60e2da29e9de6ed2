package job

import (
	"strings"

	"steadyrail/capture"
)

// needBoard asks for the sheet and its name.
func needBoard(a capture.Act) error {
	if strings.TrimSpace(a.Text) == "" || strings.TrimSpace(a.Subject) == "" {
		return bad("the %s needs the sheet and the board's name", a.Verb)
	}
	return nil
}
