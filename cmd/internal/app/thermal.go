package app

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// latest returns the newest reading of a channel and its age, for the cold
// junctions of thermocouples.
func (a *App) latest(ch capture.ChannelID) (capture.Reading, time.Duration, bool) {
	last, ok := a.table.Newest(ch)
	return last.Reading, max(0, a.clock.Now().Sub(last.At)), ok
}

// checkColds finds cold junctions that no channel of the bench measures.
func (a *App) checkColds() error {
	for _, c := range a.o.Config.Instruments {
		for _, t := range c.Transforms {
			if t.ColdChannel == "" {
				continue
			}
			ch, ok := a.channel(t.ColdChannel)
			switch {
			case !ok:
				return fmt.Errorf("instrument %s: transform %s: cold_junction: there is no channel %s; channels: %s", c.Name, t.Name, t.ColdChannel, a.channelNames())
			case ch.Quantity != capture.Temperature:
				return fmt.Errorf("instrument %s: transform %s: cold_junction: %s measures %s, not temperature", c.Name, t.Name, t.ColdChannel, ch.Quantity.Words())
			}
		}
	}
	return nil
}

// touches reports whether a placement puts a temperature sensor somewhere that
// is no rail: what it touches there may be at any potential.
func (a *App) touches(p capture.Placement) bool {
	ch, _ := a.channel(p.Channel)
	return ch.Quantity == capture.Temperature && p.Rail == "" && p.Point != ""
}

// bareSensor cautions beside the placement of a temperature sensor whose
// instrument is not known to be isolated.
func (a *App) bareSensor(p capture.Placement) string {
	if !a.touches(p) || p.Corrects != 0 || p.Return != "" {
		return ""
	}
	if iso := a.info(p.Channel.Instrument()).Isolation; iso.Port == "isolated" || iso.Sensor == "insulated" {
		return ""
	}
	return " A bare sensor ties what it touches to the instrument, and through it perhaps to earth: insulate it where that is not at 0 V."
}
