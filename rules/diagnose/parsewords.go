package diagnose

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// examples are of what goes on behind a word that stands alone.
var examples = map[string]string{
	"unplug ": `"unplug CN3"`, "lift ": `"lift C104"`, "put back ": `"put back C104"`, "alone ": `"alone C104 0.3 ohm"`,
	"source ": `"source +5 V logic ok"`, "load ": `"load NAME not ok"`, "enable ": `"enable PS2 missing"`,
	"behind ": `"behind CN3 there"`, "across ": `"across PS2 open"`, "set says ": `"set says +5 V logic"`,
}

// mostNamed bounds how many names a sentence lists.
const mostNamed = 6

// boardHas says which parts come off, of many only the first, and before all the
// one that was meant perhaps.
func boardHas(names []string, typed string) string {
	list := "the board has " + strings.Join(names, ", ")
	if len(names) > mostNamed {
		list = fmt.Sprintf("the board has %s and %d more", strings.Join(names[:mostNamed], ", "), len(names)-mostNamed)
	}
	if near := capture.Nearest(typed, names); near != "" {
		return "did you mean " + near + "? T" + list[1:]
	}
	return list
}
