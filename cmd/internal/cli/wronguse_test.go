package cli

import (
	"bytes"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Whatever is typed wrongly is answered in words that say what is wrong and how the
// command is used; nothing of the library or of the language's own parsers shows.
func TestWrongUseIsSaidInWords(t *testing.T) {
	for typed, want := range map[string]string{
		"trim|1|--turned|abc":                 `trim: --turned: "abc" is not a number; write one such as 0.75`,
		"trim":                                "trim: nothing was named; it is used so: steadyrail trim RAIL",
		"enter|5":                             `enter: something is missing behind "5"; it is used so: steadyrail enter RAIL VALUE`,
		"inject|supply|0.2V":                  `inject: "0.2V" is too much; a name with blanks stands in quotes`,
		"doctor|extra":                        `doctor: "extra" is too much; it is used so`,
		"doctr":                               `there is no command "doctr": did you mean doctor? (see: steadyrail --help)`,
		"frobnicate":                          `steadyrail: there is no command "frobnicate" (see: steadyrail --help)`,
		"job|opn":                             `job: there is no command "opn": did you mean open?`,
		"run":                                 "run: --config is missing; it is used so: steadyrail run --config FILE",
		"demo|--for|x":                        `demo: --for: "x" is not a length of time; write one such as 1m30s or 1h30m`,
		"demo|--seed|x":                       `demo: --seed: "x" is not a whole number`,
		"demo|--plain=maybe":                  `demo: --plain: "maybe": it stands alone`,
		"trim|1|--turnd|3":                    "trim: there is no --turnd: did you mean --turned?",
		"trim|1|--turned":                     "trim: --turned wants something behind it",
		"trim|1|--nothing-like-that":          "trim: there is no --nothing-like-that (see: steadyrail trim --help)",
		"limits|supply|--volts|abc":           `limits: --volts: "abc": does not begin with a figure`,
		"soak|start|--for|x":                  "soak: --for: ",
		"read|serial:/dev/x|--plain|and|more": "",
	} {
		var said bytes.Buffer
		code := Main(strings.Split(typed, "|"), strings.NewReader(""), &said, &said)
		text := strings.Join(strings.Fields(said.String()), " ")
		if code != exitUse || !strings.Contains(text, want) || strings.Contains(text, "strconv") || strings.Contains(text, "arg(s)") || strings.Contains(text, "invalid argument") {
			t.Errorf("%s: %d %s", typed, code, text)
		}
	}
}

// Every command of the tree that wants arguments says how it is used when it gets
// none, or too many.
func TestEveryCommandSaysHowItIsUsed(t *testing.T) {
	var visit func(c *cobra.Command)
	seen := 0
	visit = func(c *cobra.Command) {
		for _, args := range [][]string{nil, {"a", "b", "c", "d", "e", "f"}} {
			if c.Args == nil || !c.HasParent() { // the program itself names no arguments
				continue
			}
			if err := c.Args(c, args); err != nil {
				seen++
				if text := err.Error(); !strings.Contains(text, "it is used so: steadyrail") || strings.Contains(text, "arg(s)") {
					t.Errorf("%s with %q: %s", c.CommandPath(), args, text)
				}
			}
		}
		for _, sub := range c.Commands() {
			visit(sub)
		}
	}
	visit(newRoot(streams{}))
	if seen < 60 {
		t.Errorf("only %d refusals", seen)
	}
}
