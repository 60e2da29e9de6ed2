package table

import (
	"fmt"
	"strings"
	"testing"
)

// What parts the cells is guessed. Where what follows does not fit, the message
// says what was guessed and with which option to say it; who said it is not asked.
func TestAWrongGuessOfTheSeparatorIsHinted(t *testing.T) {
	holed := "Time (s),CH1 (V)\n" + counting("%d,5.0\n", 4) + "5,5,0\n"
	for what, c := range map[string]struct {
		data, column string
		o            Options
		want         string
		never        string
	}{
		"a row of other cells":   {holed, "", Options{}, "taken as parted by comma: if that is wrong, say what parts them with --separator", ""},
		"the same, but said":     {holed, "", Options{Separator: ','}, "3 cells", "--separator"},
		"decimal commas as well": {"Time,CH1\n" + counting("%d,0,5,02\n", 20), "", Options{}, "--separator", ""},
		"no table at all":        {"Time|CH1\n" + counting("%d|5.02\n", 20), "", Options{}, "--separator", ""},
		"a header of another":    {"Time;CH1, V\n" + counting("%d,5.0\n", 20), "", Options{}, "a semicolon stands in some", ""},
		"nothing else in sight":  {"Time,CH1\n" + counting("%d,5.0\n", 20), "", Options{}, "say", "--separator"},
	} {
		_, err := wave(t, c.data, c.column, c.o)
		if err == nil || !strings.Contains(err.Error(), c.want) || c.never != "" && strings.Contains(err.Error(), c.never) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// counting writes rows whose first number counts up.
func counting(row string, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, row, i)
	}
	return b.String()
}

func TestParseSeparator(t *testing.T) {
	for word, want := range map[string]byte{"": 0, "comma": ',', "semicolon": ';', "tab": '\t'} {
		if got, err := ParseSeparator(word); err != nil || got != want {
			t.Errorf("%q: %q, %v", word, got, err)
		}
	}
	if _, err := ParseSeparator("pipe"); err == nil || !strings.Contains(err.Error(), "comma, semicolon, tab") {
		t.Error(err)
	}
}
