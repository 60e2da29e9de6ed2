package capture

import "strings"

// Listed names things as a sentence does: "", "a", "a and b", "a, b and c".
func Listed(names []string) string {
	last := len(names) - 1
	if last < 1 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}
