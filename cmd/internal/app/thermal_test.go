package app_test

import (
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

// transforms puts a thermocouple on the fourth meter's volts, with the bench's
// thermometer at the cold junction, and a Pt100 on its ohms.
func transforms(c *configs.Config) {
	for i := range c.Instruments {
		if c.Instruments[i].Name == sim.DMM4 {
			c.Instruments[i].Transforms = []drivers.Transform{
				{Name: "case", Of: "volts", Kind: "thermocouple-k", ColdChannel: "thermo/celsius"},
				{Name: "sink", Of: "ohms", Kind: "pt100"},
			}
		}
	}
}

// A thermocouple that is as warm as its cold junction reads no volts, and so the
// cold junction's temperature; a probe in the air is an open Pt100.
func TestTemperaturesAreComputed(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, transforms)
	r.open(jobID)
	r.must(r.bench.Lift(sim.DMM4))
	res, err := r.Place(t.Context(), "", capture.Placement{Channel: "dmm4/case", Point: "stand-in case"})
	r.must(err)
	if strings.Contains(res.Say, "bare sensor") {
		t.Errorf("a caution for an isolated meter: %q", res.Say)
	}
	r.until("the temperature follows the cold junction", func(s live.Snapshot) bool {
		cold, _ := s.Channel("thermo/celsius")
		got, _ := s.Channel("dmm4/case")
		return cold.Last != nil && got.Last != nil && got.Last.Reading.Good() && got.Last.Reading.Quantity == capture.Temperature &&
			math.Abs(got.Last.Reading.Value-cold.Last.Reading.Value) < 3 && got.Last.Reading.Text == ""
	})
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: "dmm4/sink", Point: "heat sink"})
	r.must(err)
	r.until("the open sensor has no number", func(s live.Snapshot) bool {
		got, _ := s.Channel("dmm4/sink")
		return got.Last != nil && got.Last.Reading.Flags.Has(capture.OverRange) && got.Last.Reading.Value == 0
	})
	res, err = r.Place(t.Context(), "", capture.Placement{Channel: "thermo/celsius", Point: "stand-in case"})
	r.must(err)
	if !strings.Contains(res.Say, "A bare sensor ties what it touches") {
		t.Errorf("no caution: %q", res.Say)
	}
}

// Temperature channels obey the isolation rules, also where they stand on no rail.
func TestBareSensorsOnABoardWithAMainsSide(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, transforms)
	s := sheet(t, jobID)
	s.Rails[1].Side = capture.Mains
	_, err := r.OpenJob(t.Context(), s)
	r.must(err)
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: "thermo/celsius", Point: "PS2 case"})
	refused(t, "a sensor that may be earthed", err, dashboards.Refused, "mains side", "thermo", "Local codes")
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: "dmm4/case", Point: "PS2 case"})
	r.must(err) // its meter is isolated, and says for what
}

func TestAColdJunctionMustBeATemperature(t *testing.T) {
	for channel, want := range map[capture.ChannelID]string{"dmm/volts": "not temperature", "thermo/kelvin": "no channel thermo/kelvin"} {
		r := newBench(t, 5, transforms, func(c *configs.Config) {
			for i := range c.Instruments {
				for k := range c.Instruments[i].Transforms {
					if c.Instruments[i].Transforms[k].ColdChannel != "" {
						c.Instruments[i].Transforms[k].ColdChannel = channel
					}
				}
			}
		})
		cfg := r.cfg
		if _, err := app.New(app.Options{Config: &cfg}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", channel, err, want)
		}
	}
}
