package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"steadyrail/drivers/wire"
)

// target is a port to be asked, and how.
type target struct {
	name    string
	address wire.Address
	lines   []wire.Line // to try in turn
	brief   bool        // such a plan was told before: the same steps in fewer words
}

// target finds out what a name means: a link, a port of the list, a path.
func (p *prober) target(name string, list []wire.Port) (target, error) {
	link := name
	for _, port := range list {
		if port.Name == name || port.Stable == name {
			link = port.Link
		}
	}
	a, err := wire.ParseAddress(plainPath(link))
	if err != nil && link == name && !strings.Contains(name, ":") {
		a, err = wire.ParseAddress("serial:" + name) // not there: opening it says so
	}
	if err != nil {
		return target{}, use(err)
	}
	t := target{name: name, address: a}
	if !serial(a) || a.Line.Baud != 0 {
		t.lines = []wire.Line{{}}
		return t, nil
	}
	for _, b := range p.bauds {
		l := wire.Line{Baud: b}
		if err := l.Validate(); err != nil || b == 0 {
			return target{}, usef("--baud %d: use rates such as 9600,19200,115200", b)
		}
		t.lines = append(t.lines, l)
	}
	return t, nil
}

// plainPath puts the kind of link before a path of a device that is there; it
// leaves alone what is a link already.
func plainPath(link string) string {
	path, _, _ := strings.Cut(link, "?")
	info, err := os.Stat(path)
	if err != nil || info.IsDir() {
		return link
	}
	switch base := filepath.Base(path); {
	case strings.HasPrefix(base, "usbtmc"):
		return wire.KindUSBTMC + ":" + link
	case strings.HasPrefix(base, "hidraw"):
		return wire.KindHID + ":" + link
	}
	return wire.KindSerial + ":" + link
}

func serial(a wire.Address) bool { return a.Kind == wire.KindSerial || a.Kind == wire.KindUSB }

// messages tells a link on which nothing can be heard without being asked for:
// a read is a request there.
func messages(a wire.Address) bool {
	return !serial(a) && a.Kind != wire.KindTCP && a.Kind != wire.KindHID
}

func (t target) line(l wire.Line) wire.Line { return wire.DefaultLine().With(l).With(t.address.Line) }

// plan says to the byte what will be done.
func (t target) plan(w io.Writer) {
	if t.brief {
		t.planAgain(w)
		return
	}
	first := t.line(t.lines[0])
	fmt.Fprintf(w, "%s:\n", t.name)
	if serial(t.address) {
		fmt.Fprintf(w, "  opens it at %s, DTR %s, RTS %s\n", settings(first), first.DTR, first.RTS)
		fmt.Fprintln(w, "    (Linux raises both for a moment whenever a port is opened, and a rising DTR")
		if first.DTR == "on" {
			fmt.Fprintln(w, "    restarts some small boards; ?dtr=off&rts=off behind the link puts them low")
			fmt.Fprintln(w, "    after that)")
		} else {
			fmt.Fprintln(w, "    restarts some small boards)")
		}
	} else {
		fmt.Fprintf(w, "  opens %s\n", t.address)
	}
	if !messages(t.address) {
		fmt.Fprintf(w, "  listens for %.1f s; what talks by itself is left alone, and nothing is sent\n", listenFor.Seconds())
	}
	bytes := asked + endOfLine(first)
	fmt.Fprintf(w, "  sends %s and %s, in hexadecimal % X, and waits for the answer\n", asked, terminator(first), bytes)
	if more := t.rates(); more != "" {
		fmt.Fprintf(w, "  the same at %s baud, until something answers\n", more)
	}
}

// rates are those that come after the first.
func (t target) rates() string {
	var more []string
	for _, l := range t.lines[1:] {
		more = append(more, strconv.Itoa(l.Baud))
	}
	return strings.Join(more, ", ")
}

// planAgain is the plan for who has read one.
func (t target) planAgain(w io.Writer) {
	first := t.line(t.lines[0])
	at := ""
	if serial(t.address) {
		at = fmt.Sprintf(" at %s, DTR %s, RTS %s", settings(first), first.DTR, first.RTS)
	}
	if more := t.rates(); more != "" {
		at += ", then at " + more
	}
	sends := "; sends"
	if !messages(t.address) {
		sends = "; listens, and only into silence sends"
	}
	fmt.Fprintf(w, "%s:\n  opens it%s%s % X (%s, %s)\n", t.name, at, sends, asked+endOfLine(first), asked, terminator(first))
}

// settings prints 9600 baud 8N1.
func settings(l wire.Line) string {
	parity := "?"
	if l.Parity != "" {
		parity = strings.ToUpper(l.Parity[:1])
	}
	return fmt.Sprintf("%d baud %d%s%s", l.Baud, l.DataBits, parity, l.StopBits)
}

func terminator(l wire.Line) string {
	if l.Terminator == "" {
		return "LF"
	}
	return l.Terminator
}

func endOfLine(l wire.Line) string {
	return map[string]string{"CR": "\r", "CRLF": "\r\n", "LF": "\n"}[terminator(l)]
}
