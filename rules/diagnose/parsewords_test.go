package diagnose

import (
	"fmt"
	"strings"
	"testing"
)

// A word that stands alone is answered with what goes behind it, not with all
// that a line may be; a part that nobody knows, with a few and the one that was
// meant.
func TestWhatIsSaidOfAWordAlone(t *testing.T) {
	var b Board
	for i := range 9 {
		b.Capacitors = append(b.Capacitors, Capacitor{Name: fmt.Sprintf("C10%d", i)})
	}
	for begin, example := range examples {
		line := strings.TrimSpace(begin)
		_, bad := ParseLog(b, line)
		if want := line + " what? Write such as " + example; len(bad) != 1 || bad[0].Why != want {
			t.Errorf("%q: %v, want %q", line, bad, want)
		}
	}
	for line, want := range map[string]string{
		"lift C10x": `"C10x" is no part that comes off; did you mean C100? The board has C100, C101, C102, C103, C104, C105 and 3 more`,
		"lift PS2":  `"PS2" is no part that comes off; the board has C100, C101, C102, C103, C104, C105 and 3 more`,
	} {
		if _, bad := ParseLog(b, line); len(bad) != 1 || bad[0].Why != want {
			t.Errorf("%q: %v, want %q", line, bad, want)
		}
	}
}
