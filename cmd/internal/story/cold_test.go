package story

import (
	"testing"

	"steadyrail/capture/job"
)

// The log names the subject of a finding; the finding must not name it again.
func TestALiftIsToldOnce(t *testing.T) {
	printed, found := lifted("CN3", "0.8409 Ω", "0.8435 Ω", "Acquitted: what was lifted does not carry the short.")
	if want := "CN3 lifted: 0.8409 Ω, then 0.8435 Ω. Acquitted: what was lifted does not carry the short."; printed != want {
		t.Errorf("printed %q, want %q", printed, want)
	}
	if got, want := job.Entry(found), "CN3: 0.8409 Ω before, 0.8435 Ω after. Acquitted: what was lifted does not carry the short."; got != want {
		t.Errorf("entry %q, want %q", got, want)
	}
}
