package app

import (
	"fmt"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/drivers/wire"
)

// mayCount refuses to put a meter on a rail of which nobody knows which it is.
func (a *App) mayCount(p capture.Placement) error {
	name := p.Channel.Instrument()
	s, ok := a.pollState(name)
	if p.Rail == "" || !ok || !s.Doubtful {
		return nil
	}
	return &dashboards.Error{
		Kind:   dashboards.Refused,
		Detail: fmt.Sprintf("place %s on %s: nobody can say which meter answers as %s since it was connected", p.Channel, p.Rail, name),
		Hint:   fmt.Sprintf("touch the rail with it when asked: steadyrail tap %s %q", name, p.Rail),
	}
}

// unconfirmed says of a placement that was taken while its meter is away that
// nothing is filed under it yet: who comes back is to be confirmed first. A meter
// is taken for one that can say who it is when it did so, or is expected to.
func (a *App) unconfirmed(p capture.Placement) string {
	name := p.Channel.Instrument()
	s, ok := a.pollState(name)
	if p.Corrects != 0 || p.Rail == "" || !ok || s.Up || s.Identity.Certain() || a.saysWho(name) {
		return ""
	}
	return fmt.Sprintf(" Nothing is filed there yet: %s is away and cannot say who it is. When it is back, touch the rail with it: steadyrail tap %s %q", name, name, p.Rail)
}

// saysWho reports whether the configuration makes an instrument known: by an
// identity that is expected, an adapter's serial number, or a model that asks.
func (a *App) saysWho(name string) bool {
	for _, c := range a.o.Config.Instruments {
		if c.Name == name {
			address, err := wire.ParseAddress(c.Link)
			return err == nil && address.Serial != "" || c.Expect != (capture.Identity{}) || a.o.Config.Models[c.Model].Identifies()
		}
	}
	return false
}

// pollState returns the state of an instrument's connection.
func (a *App) pollState(name string) (pollState, bool) {
	if loop := a.loopOf[name]; loop != nil {
		for _, s := range loop.States() {
			if s.Name == name {
				return s, true
			}
		}
	}
	return pollState{}, false
}
