package drivers

import (
	"sort"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers/scpi"
	"steadyrail/drivers/wire"
)

// dialect is one way in which instruments speak: what its model files say
// beside the keys that all have, and how an instrument is made of it.
type dialect struct {
	fields func(*reader, *Model) []field     // its own keys of a model
	whole  func(*reader, *yaml.Node, *Model) // what only shows when all is read
	acts   func(Model) []string              // what can be done; nil: nothing
	open   func(build) (Instrument, error)
	tour   func(Model) []string // what connecting and one reading of each channel send; nil: nothing
	// identifies tells whether the instrument can be asked who it is; nil: never.
	identifies func(Model) bool
	// link refuses links that make no sense, and completes the model's line for
	// one that does; nil: takes any.
	link func(*Model, wire.Address) error
}

// dialects is the table of what instruments speak. A new one is a room of its
// own and an entry here.
var dialects = map[string]dialect{
	"modbus": {
		fields: (*reader).modbusFields, whole: (*reader).modbusWhole, link: modbusLink, open: openModbus,
		acts: func(m Model) []string { return m.Registers.Acts() }, tour: registerTour,
		identifies: func(m Model) bool { return m.Registers.Identity.Serial != nil },
	},
	"scpi": {
		fields: (*reader).scpiFields, whole: (*reader).scpiWhole, link: scpiLink,
		acts:       func(m Model) []string { return m.Plan.Acts() },
		tour:       func(m Model) []string { return m.Plan.Tour() },
		identifies: func(m Model) bool { return !m.Plan.Identity.None },
		open: func(b build) (Instrument, error) {
			return opened(scpi.New(scpi.Options{
				Info: b.info, Plan: b.model.Plan, Expect: b.cfg.Expect, Every: b.cfg.Every,
				OffExit: b.cfg.OnExit == ExitOff, Dial: b.dial, Baud: b.baud,
			}))
		},
	},
	"stream": {fields: (*reader).streamFields, whole: (*reader).streamWhole, open: openStream, tour: streamTour},
}

// opened keeps a nil driver from becoming an instrument that is not nil.
func opened[T Instrument](in T, err error) (Instrument, error) {
	if err != nil {
		return nil, err
	}
	return in, nil
}

func dialectNames() []string {
	var out []string
	for name := range dialects {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}
