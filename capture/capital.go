package capture

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Capital begins a sentence: its first letter becomes a capital, unless its first
// word is a name that has to keep its spelling ([Spelt]).
func Capital(s string) string {
	word, _, _ := strings.Cut(s, " ")
	if Spelt(word) {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 || r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Spelt reports whether a word is spelt as it stands wherever it stands: a
// channel (dmm2/ohms), a name with a figure in it (dmm2), a file (start.csv), a
// unit (mV). Of a name like supply nothing shows that it is one.
func Spelt(word string) bool {
	word = strings.TrimRight(word, ",.;:!?’'\"")
	if strings.ContainsAny(word, "/_.0123456789") {
		return true
	}
	_, n := utf8.DecodeRuneInString(word)
	return strings.IndexFunc(word[n:], unicode.IsUpper) >= 0
}
