package comparison

import (
	"os"
	"testing"

	"go.uber.org/goleak"
)

// TestMain lets the test program also be the far end of a line, in a process
// of its own, so that its processor time is not counted as ours.
func TestMain(m *testing.M) {
	if os.Getenv(farEndEnv) != "" {
		farEnd(os.Getenv(farEndEnv))
		return
	}
	goleak.VerifyTestMain(m)
}
