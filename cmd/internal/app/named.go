package app

import (
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// noInstrument refuses a name that no instrument of the bench has, and says which
// there are.
func (a *App) noInstrument(what, name string) error {
	return &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": there is no instrument " + name, Hint: "instruments are " + strings.Join(a.order, ", ")}
}

// hasOutput reports whether an instrument reads an output of its own back: only what
// gives power does.
func (a *App) hasOutput(name string) bool {
	info := a.info(name)
	return slices.ContainsFunc(info.Channels, func(ch capture.ChannelInfo) bool { return ch.Setpoint })
}

// suppliesNamed lists the instruments that have an output.
func (a *App) suppliesNamed() string {
	var names []string
	for _, name := range a.order {
		if a.hasOutput(name) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return "no instrument of this bench"
	}
	return strings.Join(names, ", ")
}
