package cli_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"steadyrail/cmd/internal/cli"
)

// typed takes the command lines out of a text: behind two spaces, or of a README
// at the margin; several on a line between semicolons, remarks behind "  #".
func typed(text, indent string) (out [][]string) {
	for line := range strings.SplitSeq(text, "\n") {
		rest, isCommand := strings.CutPrefix(line, indent)
		if !isCommand || strings.HasPrefix(rest, " ") {
			continue
		}
		rest, _, _ = strings.Cut(rest, "  #")
		for words := range slices.Values(commandsIn(rest)) {
			if words[0] == "steadyrail" || words[0] == "h" {
				out = append(out, words)
			}
		}
	}
	return out
}

// commandsIn splits a line as a shell does: words at spaces, commands at
// semicolons, neither within quotes.
func commandsIn(line string) (out [][]string) {
	var words []string
	var word strings.Builder
	begun, quote := false, rune(0)
	end := func() {
		if begun {
			words = append(words, word.String())
		}
		word.Reset()
		begun = false
	}
	for _, r := range line + ";" {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote == 0 && (r == '"' || r == '\''):
			quote, begun = r, true
		case quote == 0 && (r == ' ' || r == ';'):
			end()
			if r == ';' && len(words) > 0 {
				out, words = append(out, words), nil
			}
		default:
			word.WriteRune(r)
			begun = true
		}
	}
	return out
}

// Every command that the practice bench tells a person to type is one that
// exists, with those flags; and hands do all that they are told, in that order.
func TestPracticeCommandsExist(t *testing.T) {
	slow(t)
	t.Parallel()
	p := practise(t, t.TempDir())
	defer p.ends(os.Interrupt)
	list := typed(p.said, "  ")
	if len(list) < 80 {
		t.Fatalf("only %d commands:\n%s", len(list), p.said)
	}
	for _, words := range list {
		switch {
		case words[0] == "h" && len(words) > 1:
			p.hands(strings.Join(words[1:], " "))
		case words[0] == "steadyrail":
			if err := cli.Understands(words[1:]); err != nil {
				t.Errorf("%q: %v", words, err)
			}
		}
	}
	for _, name := range []string{"demo-standin.yaml", "boards/alderbrook-88-supply-board.yaml"} {
		if _, err := os.Stat(filepath.Join(p.dir, "bench", name)); err != nil {
			t.Error(err)
		}
	}
	if out := p.does("standin", filepath.Join("bench", "demo-standin.yaml"), "--job", "AB-0147", "--keep"); !strings.Contains(out, "may stand in on +5 V logic as far as was checked") {
		t.Errorf("the stand-in that lies beside the set:\n%s", out)
	}
	p.does("isolate", "sheet", "Alderbrook 88 supply board")
}

// So are those of the README.
func TestCommandsOfTheReadmeExist(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	list := typed(string(text), "")
	if len(list) < 40 {
		t.Fatalf("only %d commands", len(list))
	}
	for _, words := range list {
		if err := cli.Understands(words[1:]); err != nil {
			t.Errorf("%q: %v", words, err)
		}
	}
}

func TestUnderstands(t *testing.T) {
	for _, wrong := range []string{"dance", "job stage", "soak start --until 3h", "place", "report AB-0147", "place dmm/volts a b c"} {
		if err := cli.Understands(strings.Fields(wrong)); err == nil {
			t.Errorf("%s is taken for a command", wrong)
		}
	}
}
