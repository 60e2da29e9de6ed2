// Package configs reads the configuration of a bench.
//
// The file is read as a tree of nodes first, so that every scalar stays the
// text that was written: 00123457 is not octal, 12e4 is not a number, and a
// serial number that could be taken for one must be quoted. Unknown and double
// keys are errors. [Load] reports every problem at once, each with its file,
// line, key and what to do; only when there is none do the values go on to
// viper, which lays defaults, environment and flags around them.
//
// An environment variable is the key in capitals behind STEADYRAIL_
// (STEADYRAIL_LISTEN); only the plain settings at the top can be set so, never
// instruments. A relative workspace in the file is relative to the file, one
// from the environment or a flag to the current folder.
//
// Nothing is global: each load has its own viper. Loading opens no link, no
// port and no file but the configuration and model files. It is for cmd;
// nothing else reads configuration.
package configs

import (
	"fmt"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/pedal"
	"steadyrail/rules/notify"
)

// Config is a bench's configuration, complete and checked.
type Config struct {
	File        string // where it was read from
	Bench       string
	Workspace   string              // folder, ready to be opened
	Listen      string              // host:port on loopback
	Phone       string              // address[:port] of the page for a phone; "": one of this computer is chosen
	Decimal     capture.DecimalMark // what people type
	LogLevel    string              // debug, info, warn or error
	Instruments []drivers.Config    // in the order of the file
	Handhelds   []Handheld          // meters without a port, for what is typed
	Models      drivers.Models      // embedded ones and those of the user's folder
	Notify      []notify.Config
	Rules       []capture.Rule // beside those that follow from the rails
	Formulas    []capture.Formula
	Job         *JobConfig   // nil: none stands
	Pedal       pedal.Config // of the walk; zero: none of its own
	Voice       []string     // program and arguments that speak the walk; nil: silent
}

// JobConfig is a standing job, opened at start, for a bench that always soaks
// the same board.
type JobConfig struct {
	Name      string
	RailsLine string // as written
	Rails     []capture.Rail
	Set       string
	Board     string
}

// Problem is one thing that is wrong with a configuration.
type Problem struct {
	File string `json:"file"`           // or the environment variable or flag it came from
	Line int    `json:"line"`           // 0: the whole file
	Key  string `json:"key,omitempty"`  // "instruments[1].on_exit"
	What string `json:"what"`           // what is wrong
	Hint string `json:"hint,omitempty"` // what to do; may be empty
}

// String prints file:line: key: what (hint).
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
	}
	if p.Key != "" {
		b.WriteString(": " + p.Key)
	}
	b.WriteString(": " + p.What)
	if p.Hint != "" {
		b.WriteString(" (" + p.Hint + ")")
	}
	return b.String()
}

// Options are what lies around the file. The zero value takes the environment
// of the process and no flags.
type Options struct {
	Flags    map[string]string // by key: "listen"; win over everything
	ModelDir string            // folder of the user's own model files; "": the key models, else none
}
