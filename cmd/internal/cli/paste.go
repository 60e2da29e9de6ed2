package cli

import (
	"runtime"
	"strings"
)

// pasted writes a word so that a shell takes it as it is: a path may have spaces.
// What needs no quotes gets none. Single quotes hold everything but themselves; on
// Windows they hold nothing, and the word stays as it is.
func pasted(word string) string {
	if runtime.GOOS == "windows" {
		return word
	}
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("/._-+:@%,", r)
	}
	if word != "" && strings.IndexFunc(word, func(r rune) bool { return !plain(r) }) < 0 {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
