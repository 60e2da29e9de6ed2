package doctor

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

// ports looks at the port of each instrument: there, allowed, and not somebody
// else's. None is opened.
func (b Bench) ports(context.Context) []Finding {
	if b.Config == nil {
		return nil
	}
	if b.Ports == nil {
		return one("ports", Note, "not looked at: the instruments are simulated", "")
	}
	list, err := b.Ports()
	if err != nil {
		return one("ports", Attend, err.Error(), "")
	}
	var out []Finding
	for _, c := range b.Config.Instruments {
		out = append(out, b.port(c, list))
	}
	return out
}

func (b Bench) port(c drivers.Config, list []wire.Port) Finding {
	looked := "port of " + c.Name
	a, err := wire.ParseAddress(c.Link)
	if err != nil { // cannot be: the configuration is right
		return Finding{looked, err.Error(), "", Wrong}
	}
	if a.OnNetwork() {
		return Finding{looked, a.Place() + " is on the network: not asked, many instruments take one connection alone", "", Note}
	}
	p, there := wire.PortOf(a, list)
	switch {
	case !there && isThere(a.Path):
		return Finding{looked, a.Path + " is there under a name that the list of ports does not have: who holds it was not looked at", "write the name that steadyrail ports shows, and that is looked at, too", Note}
	case !there:
		return Finding{looked, a.Place() + " is not there", "plug it in; see what is there: steadyrail ports", Attend}
	case p.Access != "":
		return Finding{looked, p.Name + " is there, and this user may not open it", p.Access, Fails}
	case p.Holder != "" && !b.ownDaemon(p.Holder):
		return Finding{looked, p.Name + " is held by " + p.Holder, "end that program: two that read one port get half each", Fails}
	case p.Holder != "":
		return Finding{looked, p.Name + ": the daemon has it", "", Fine}
	}
	return Finding{looked, p.Name + " is there and free", "", Fine}
}

// isThere reports whether a path leads to something, as a link of a person's own to a
// port does.
func isThere(path string) bool {
	if path == "" {
		return false
	}
	_, err := os.Stat(path)
	return err == nil
}

// ownDaemon reports whether a holder is the daemon of this workspace.
func (b Bench) ownDaemon(holder string) bool {
	if b.Daemon == nil {
		return false
	}
	pid, _ := b.Daemon.Holder()
	return strings.HasSuffix(holder, fmt.Sprintf("(process %d)", pid))
}

// soon is how long before its day a calibration is worth a word.
const soon = 30 * 24 * time.Hour

// calibration tells which instruments are overdue, and of which nobody said.
func (b Bench) calibration(context.Context) []Finding {
	const looked = "calibration"
	if b.Config == nil {
		return nil
	}
	var out []Finding
	var silent []string
	well := 0
	for _, c := range b.Config.Instruments {
		due, err := time.ParseInLocation(time.DateOnly, c.CalibrationDue, b.Now().Location())
		switch left := due.AddDate(0, 0, 1).Sub(b.Now()); { // it holds through the day it is due
		case err != nil:
			silent = append(silent, c.Name)
		case left <= 0:
			out = append(out, Finding{looked, c.Name + " was due on " + c.CalibrationDue, "have it calibrated: reports say that it is overdue", Attend})
		case left < soon:
			out = append(out, Finding{looked, c.Name + " is due on " + c.CalibrationDue, "", Note})
		default:
			well++
		}
	}
	if len(silent) > 0 {
		out = append(out, Finding{looked, "not stated of " + strings.Join(silent, ", "), "add calibration_due to the configuration", Note})
	}
	if well > 0 {
		out = append(out, Finding{looked, fmt.Sprintf("%d of %d instruments are within their date", well, len(b.Config.Instruments)), "", Fine})
	}
	return out
}
