package diagnose

import (
	"fmt"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// form is a line that begins with a word, with an example of it.
type form struct {
	begin, example string
	read           func(p *parser, rest string) (Entry, bool)
}

// forms are those of all lines but readings, which begin with the name of a rail.
var forms = []form{
	{"unplug ", "unplug CN3", (*parser).remove},
	{"lift ", "lift C104", (*parser).remove},
	{"put back ", "put back C104", (*parser).putBack},
	{"alone ", "alone C104 0.3 ohm", (*parser).alone},
	{"source ", "source +5 V logic ok", answer(SourceAlone)},
	{"load ", "load NAME not ok", answer(LoadAlone)},
	{"enable ", "enable PS2 missing", answer(Enabled)},
	{"across ", "across PS2 open", (*parser).across},
	{"behind ", "behind CN3 there", answer(Behind)},
	{"set says ", "set says +5 V logic", (*parser).says},
}

// howTo is what may stand on a line.
func howTo() string {
	list := []string{`"+5 V logic 0.8 ohm"`, `"+5 V logic 4.98 V hot"`, `"+5 V logic restarting"`}
	for _, f := range forms {
		list = append(list, strconv.Quote(f.example))
	}
	last := len(list) - 1
	return "write such as " + strings.Join(list[:last], ", ") + " or " + list[last]
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
