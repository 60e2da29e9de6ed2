// Package doctor looks at a whole bench at once: configuration, ports, record,
// disk, clock, those who are told, calibration. Each [Finding] says what was looked
// at, what was found, and what to do. It opens no instrument, sends nothing to one,
// tells nobody anything, and changes nothing but a file of its own that it removes.
package doctor

import (
	"context"
	"time"

	"steadyrail/configs"
	"steadyrail/drivers/wire"
)

// Grade says how bad a finding is.
type Grade string

// The grades, from good to bad.
const (
	Fine   Grade = "fine"
	Note   Grade = "note"   // worth knowing; nothing has to be done
	Attend Grade = "attend" // the bench works, and somebody will be sorry
	Wrong  Grade = "wrong"  // the configuration is wrong
	Fails  Grade = "fails"  // something that the bench needs does not work
)

// codes are the exit codes of the grades, as the command line has them everywhere.
var codes = map[Grade]int{Fine: 0, Note: 0, Attend: 1, Wrong: 2, Fails: 3}

// Finding is one line: what was looked at, what was found, what to do.
type Finding struct {
	Looked string `json:"looked_at"`
	Found  string `json:"found"`
	Do     string `json:"do,omitempty"` // empty: nothing
	Grade  Grade  `json:"grade"`
}

// Code is the exit code of the worst finding.
func Code(list []Finding) (worst int) {
	for _, f := range list {
		worst = max(worst, codes[f.Grade])
	}
	return worst
}

// Daemon is the daemon that holds the workspace. A nil one runs not.
type Daemon interface {
	// Holder tells its process and address.
	Holder() (pid int, address string)
	// Get asks for a page and returns status and text.
	Get(ctx context.Context, path string) (status int, text string, err error)
}

// Bench is what is looked at, and by which eyes. All but the other functions
// may be missing.
type Bench struct {
	Config    *configs.Config // nil: none was named, or it is wrong
	File      string          // of the configuration; "": none was named
	Problems  []configs.Problem
	Workspace string // folder
	Daemon    Daemon // nil: none runs
	Version   string // of this program
	Rules     string // what it judges by

	Now     func() time.Time
	Ports   func() ([]wire.Port, error) // nil: the instruments are simulated
	Clock   func() (synchronised, known bool)
	Free    func(dir string) (int64, error)
	Inhibit func(why string) (release func(), err error)
}

// Look looks at everything, in the order in which a person would mend it.
func (b Bench) Look(ctx context.Context) []Finding {
	var out []Finding
	for _, look := range []func(context.Context) []Finding{
		b.versions, b.configuration, b.daemon, b.workspace, b.disk, b.record,
		b.clock, b.ports, b.calibration, b.notifiers, b.sleep,
	} {
		out = append(out, look(ctx)...)
	}
	return out
}

func one(looked string, grade Grade, found, do string) []Finding {
	return []Finding{{looked, found, do, grade}}
}
