package capture

import (
	"context"
	"strings"
	"time"
)

// Identity is what an instrument says of itself (*IDN? after IEEE 488.2), or
// what its adapter says for it.
type Identity struct {
	Maker    string `json:"maker,omitempty"`
	Model    string `json:"model,omitempty"`
	Serial   string `json:"serial_number,omitempty"` // text: leading zeros count
	Firmware string `json:"firmware,omitempty"`
	Source   string `json:"source,omitempty"` // "idn", "adapter", "path"
}

// String prints maker, model and serial number, without what is empty.
func (id Identity) String() string {
	var parts []string
	for _, s := range []string{id.Maker, id.Model} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	out := strings.Join(parts, " ")
	if id.Serial != "" {
		if out != "" {
			out += ", "
		}
		out += "serial number " + id.Serial
	}
	if out == "" {
		return "unknown"
	}
	return out
}

// Same reports whether two identities are the same instrument: maker, model
// and serial number. Firmware may change.
func (id Identity) Same(other Identity) bool {
	return id.Maker == other.Maker && id.Model == other.Model && id.Serial == other.Serial
}

// Certain reports whether whoever answers is known to be the one that answered
// before: by its own serial number or its adapter's. A socket tells where
// something is plugged in, not what.
func (id Identity) Certain() bool { return id.Source == "idn" || id.Source == "adapter" }

// Accuracy is a maker's statement for one range: limits of error, taken as
// rectangular unless the maker says otherwise (GUM 4.3.7).
type Accuracy struct {
	Range       float64 `json:"range" yaml:"range"`                     // base unit, full scale
	OfReading   float64 `json:"of_reading" yaml:"of_reading"`           // part of the reading, 0.00015 is 0.015 %
	OfRange     float64 `json:"of_range" yaml:"of_range"`               // part of the range
	Digits      float64 `json:"digits" yaml:"digits"`                   // counts of the last digit
	Resolution  float64 `json:"resolution" yaml:"resolution"`           // base unit, one count
	PerKelvin   float64 `json:"per_kelvin,omitempty" yaml:"per_kelvin"` // part of the reading per kelvin outside 23 ± 5 °C
	Uncertainty string  `json:"source,omitempty" yaml:"source"`         // document and page
}

// ChannelInfo describes a channel of an instrument.
type ChannelInfo struct {
	ID       ChannelID     `json:"id"`
	Quantity Quantity      `json:"quantity"`
	Every    time.Duration `json:"every"`               // poll interval, nanoseconds
	Aperture time.Duration `json:"aperture"`            // integration time, nanoseconds; 0 unknown
	Lag      time.Duration `json:"lag"`                 // end of aperture to first character of the answer
	Accuracy []Accuracy    `json:"accuracy,omitempty"`  // one for each range; none: indicated only
	Setpoint bool          `json:"read_back,omitempty"` // a supply's own read-back, never evidence for a rail's band
	Group    string        `json:"group,omitempty"`     // channels of one group share the input: one at a time
	// Streams: the far end talks by itself, at its own pace. Measuring waits for
	// its next frame; Every is what that pace nominally is.
	Streams bool `json:"streams,omitempty"`
	// Runs: the instrument measures all the time and answers with its newest
	// result, which may be up to one aperture older than the question.
	Runs bool `json:"runs,omitempty"`
	// Settle is how long after the shared input was switched to this channel the
	// answers do not count yet: relays, a range change, a discharged filter.
	Settle time.Duration `json:"settle,omitempty"` // nanoseconds; 0: the first answer counts
	// FixRange: the range can be held, so that auto-ranging does not look away
	// at a dip. See [RangeFixer].
	FixRange bool `json:"fix_range,omitempty"`
	// InputOhms is the input resistance while this channel measures, in ohms.
	// Above 1e9 a lifted probe holds its last volts. 0: not stated.
	InputOhms float64 `json:"input_ohms,omitempty"`
}

// RangeFixer is an instrument that can hold a channel's range. FixRange sets
// the smallest range of the channel that holds values of up to atLeast (base
// unit, more than nothing); 0 goes back to auto-ranging. The poller calls it
// with the channel selected. An instrument that cannot returns an error that
// says so, and goes on as before.
type RangeFixer interface {
	FixRange(ctx context.Context, ch ChannelID, atLeast float64) error
}

// Isolation tells what an instrument may be clipped to. What is empty is not
// stated, and counts as the worse of what it may be.
type Isolation struct {
	Category string `json:"category,omitempty" yaml:"category"` // "CAT II 300 V" (IEC 61010-2-030)
	Port     string `json:"port,omitempty" yaml:"port"`         // "isolated" or "earthed"; empty: unknown
	// PortVolts is the working voltage, in volt rms or DC, between the inputs and the
	// computer's side that an isolated port is rated for. 0: not stated.
	PortVolts float64 `json:"port_volts,omitempty" yaml:"port_volts"`
	Probe     string  `json:"probe,omitempty" yaml:"probe"`       // category of leads and clips (IEC 61010-031), as Category
	Output    string  `json:"output,omitempty" yaml:"output"`     // minus of a supply or load: "floating" or "earthed"
	Channels  string  `json:"channels,omitempty" yaml:"channels"` // lows of its channels: "isolated" from each other or "shared"
	Sensor    string  `json:"sensor,omitempty" yaml:"sensor"`     // of temperature: "insulated" or "bare"
}

// InstrumentInfo is what the record must know of an instrument to judge and to
// report.
type InstrumentInfo struct {
	Name           string        `json:"name"`
	Model          string        `json:"model"` // model file
	Title          string        `json:"title"` // for people: "bench multimeter, 6½ digits"
	Link           string        `json:"link"`
	Identity       Identity      `json:"identity"`
	Isolation      Isolation     `json:"isolation"`
	CalibrationDue string        `json:"calibration_due,omitempty"` // 2027-03-01; empty: not stated
	Simulated      bool          `json:"simulated,omitempty"`
	Acts           []string      `json:"acts,omitempty"`     // what may be done to it: output, input, limits
	Outputs        []string      `json:"outputs,omitempty"`  // of one with several: "1", "2", see [Act.Output]
	AutoOff        time.Duration `json:"auto_off,omitempty"` // it switches itself off after so long untouched; 0: not stated
	Channels       []ChannelInfo `json:"channels"`
}
