package job

import (
	"strings"

	"steadyrail/capture"
)

// needVouch wants what is vouched for, and why: a rating is not set aside for
// nothing.
func needVouch(a capture.Act) error {
	if strings.TrimSpace(a.Text) == "" {
		return bad("it does not say why: what do you know that is not stated?")
	}
	if instrument, rail, ok := strings.Cut(a.Subject, " on "); !ok || instrument == "" || rail == "" {
		return bad("its subject is not an instrument on a rail, such as %q", "dmm on +350 V plate")
	}
	return nil
}
