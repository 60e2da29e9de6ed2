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
	for _, f := range forms {
		line := strings.TrimSpace(f.begin)
		_, bad := ParseLog(b, line)
		if want := fmt.Sprintf("%s what? Write such as %q", line, f.example); len(bad) != 1 || bad[0].Why != want {
			t.Errorf("%q: %v, want %q", line, bad, want)
		}
	}
	for line, want := range map[string]string{
		"C104": `"C104" names no rail of the board; write such as "+5 V logic 0.8 ohm", "+5 V logic 4.98 V hot", "+5 V logic restarting", "unplug CN3", "lift C104", "put back C104", ` +
			`"alone C104 0.3 ohm", "source +5 V logic ok", "load NAME not ok", "enable PS2 missing", "across PS2 open", "behind CN3 there" or "set says +5 V logic"`,
		"lift C10x": `"C10x" is no part that comes off; did you mean C100? The board has C100, C101, C102, C103, C104, C105 and 3 more`,
		"lift PS2":  `"PS2" is no part that comes off; the board has C100, C101, C102, C103, C104, C105 and 3 more`,
	} {
		if _, bad := ParseLog(b, line); len(bad) != 1 || bad[0].Why != want {
			t.Errorf("%q: %v, want %q", line, bad, want)
		}
	}
}
