package drivers

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/thermal"
)

// Transform adds a channel to an instrument: a temperature, computed from what
// another of its channels reads at a sensor.
type Transform struct {
	Name string // of the channel that is added
	Of   string // the channel it is computed from: volts
	Kind string // one of [TransformKinds]

	// Of thermocouples: where the wires end, and how warm it is there.
	Cold        *float64          // °C; nil: ColdChannel tells
	ColdChannel capture.ChannelID // of another instrument
	ColdAge     time.Duration     // older is no temperature; 0: [DefaultColdAge]
	ColdWithin  float64           // K, how well it is known; 0: not stated

	// Of resistors.
	Leads     float64 // ohm of both leads, taken off; 0 with four wires
	R0        float64 // ohm at 0 °C; 0: 100 or 1000 by the kind
	R25, Beta float64 // ohm and kelvin of an ntc
	A, B, C   float64 // of an ntc, after Steinhart and Hart, in place of R25 and Beta

	// Tolerance is the sensor's class ("1", "B") or a limit in kelvin ("0.5").
	// Empty: not stated, and the temperature is indicated only.
	Tolerance string
}

// DefaultColdAge is how old the cold junction's temperature may be. A terminal
// block changes by less than a tenth of a kelvin meanwhile (common practice).
const DefaultColdAge = 10 * time.Second

// Lookup returns the newest reading of a channel of the bench and its age. It
// may be called from any goroutine.
type Lookup func(ch capture.ChannelID) (r capture.Reading, age time.Duration, ok bool)

// TransformKinds lists the sensors in the order of documents.
func TransformKinds() []string {
	return []string{"thermocouple-k", "thermocouple-j", "thermocouple-t", "pt100", "pt1000", "ntc"}
}

var couples = map[string]thermal.Thermocouple{"thermocouple-k": thermal.K, "thermocouple-j": thermal.J, "thermocouple-t": thermal.T}

// sensor builds what the transform describes.
func (t Transform) sensor() (thermal.Sensor, error) {
	if tc, ok := couples[t.Kind]; ok {
		return tc, t.checkCold()
	}
	if !slices.Contains(TransformKinds(), t.Kind) {
		return nil, fmt.Errorf("kind: %q is no sensor: use one of %s", t.Kind, orNone(TransformKinds()))
	}
	if t.Cold != nil || t.ColdChannel != "" {
		return nil, fmt.Errorf("cold_junction: a %s has none: leave it out", t.Kind)
	}
	if t.Kind == "ntc" {
		return t.thermistor()
	}
	r0 := t.R0
	if r0 == 0 {
		r0 = map[string]float64{"pt100": 100, "pt1000": 1000}[t.Kind]
	}
	return thermal.Platinum{R0: r0, Leads: t.Leads}, nil
}

func (t Transform) checkCold() error {
	switch {
	case t.Cold == nil && t.ColdChannel == "":
		return errors.New("cold_junction is missing: say how warm the terminals are, such as 23.5, or which channel measures it, such as thermo/celsius")
	case t.Cold != nil && !(*t.Cold >= thermal.ColdLow && *t.Cold <= thermal.ColdHigh):
		return fmt.Errorf("cold_junction: %g °C is no temperature of terminals: they are between %d and %d °C", *t.Cold, thermal.ColdLow, thermal.ColdHigh)
	}
	return nil
}

func (t Transform) thermistor() (thermal.Sensor, error) {
	beta, cubic := t.R25 > 0 && t.Beta > 0, t.A != 0 && t.B > 0 && t.C >= 0
	switch {
	case beta && t.A == 0 && t.B == 0 && t.C == 0:
		return thermal.Beta(t.R25, t.Beta, t.Leads), nil
	case cubic && t.R25 == 0 && t.Beta == 0:
		return thermal.Thermistor{A: t.A, B: t.B, C: t.C, Leads: t.Leads}, nil
	}
	return nil, errors.New("an ntc needs r25 and beta, such as 10000 and 3950, or a, b and c of Steinhart and Hart")
}

// limits reads the tolerance; not ok when nothing is stated.
func (t Transform) limits() (l thermal.Limits, ok bool, err error) {
	if t.Tolerance == "" {
		return l, false, nil
	}
	if l, err = thermal.Class(t.Kind, t.Tolerance); err == nil {
		return l, true, nil
	}
	v, _, e := capture.Celsius.ParseTyped(t.Tolerance, capture.Point)
	if e != nil || !(v > 0 && v < 100) || v == math.Trunc(v) && couples[t.Kind] != (thermal.Thermocouple{}) {
		return l, false, err
	}
	return thermal.Within(v), true, nil
}

// transformed wraps an instrument in the transforms of its configuration.
func transformed(in Instrument, cfg Config) (Instrument, error) {
	if len(cfg.Transforms) == 0 {
		return in, nil
	}
	w := &warmed{Instrument: in, latest: cfg.Latest, added: map[capture.ChannelID]*added{}}
	channels := in.Info().Channels
	var all []error
	for _, t := range cfg.Transforms {
		a, err := add(cfg.Name, channels, t)
		if err == nil && (w.added[a.info.ID] != nil || slices.ContainsFunc(channels, func(c capture.ChannelInfo) bool { return c.ID == a.info.ID })) {
			err = fmt.Errorf("name: there is a channel %s already", t.Name)
		}
		if err != nil {
			all = append(all, fmt.Errorf("%w: instrument %q: transform %q: %w", ErrConfig, cfg.Name, t.Name, err))
			continue
		}
		w.added[a.info.ID] = a
		w.order = append(w.order, a.info.ID)
	}
	if len(all) > 0 {
		return nil, errors.Join(all...)
	}
	return w, nil
}

// added is a channel that is computed.
type added struct {
	of      capture.ChannelID
	info    capture.ChannelInfo
	how     Transform
	chain   thermal.Chain
	couples bool
}

// add describes the channel of a transform. All of its times are those of the
// channel that it is computed from, whose input it shares.
func add(instrument string, channels []capture.ChannelInfo, t Transform) (*added, error) {
	if !plainName.MatchString(t.Name) {
		return nil, errors.New("name: want small letters, digits and hyphens")
	}
	sensor, err := t.sensor()
	if err != nil {
		return nil, err
	}
	limits, stated, err := t.limits()
	if err != nil {
		return nil, err
	}
	of := capture.ChannelID(instrument + "/" + t.Of)
	i := slices.IndexFunc(channels, func(c capture.ChannelInfo) bool { return c.ID == of })
	switch {
	case i < 0:
		var names []string
		for _, c := range channels {
			names = append(names, c.ID.Input())
		}
		return nil, fmt.Errorf("of: there is no channel %q: the instrument has %s", t.Of, orNone(names))
	case channels[i].Quantity != sensor.Source():
		return nil, fmt.Errorf("of: a %s is read in %s, and %s measures %s", t.Kind, sensor.Source(), t.Of, channels[i].Quantity)
	}
	a := &added{of: of, info: channels[i], how: t, couples: couples[t.Kind] != thermal.Thermocouple{}}
	a.info.ID = capture.ChannelID(instrument + "/" + t.Name)
	a.info.Quantity = capture.Temperature
	a.info.Setpoint, a.info.FixRange = false, false
	a.info.Accuracy = nil
	a.chain = thermal.Chain{Sensor: sensor, Limits: limits, Cold: usualCold, Within: t.ColdWithin}
	if t.Cold != nil {
		a.chain.Cold = *t.Cold
	}
	if stated && (!a.couples || t.ColdWithin > 0) {
		a.chain.Meter = channels[i].Accuracy
		a.info.Accuracy = a.chain.Accuracy()
	}
	return a, nil
}

// usualCold is a terminal block in a room, in °C, for the limits of error where
// its temperature is measured.
const usualCold = 23
