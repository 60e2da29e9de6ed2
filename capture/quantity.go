package capture

import "fmt"

// Quantity is what a channel measures. The zero value is no quantity.
type Quantity uint8

// The quantities of the bench.
const (
	NoQuantity Quantity = iota
	DCVoltage
	ACVoltage
	DCCurrent
	ACCurrent
	Resistance
	DiodeDrop
	Capacitance
	Frequency
	Temperature
	Power
	Ratio
)

var quantityNames = [...]string{
	NoQuantity: "", DCVoltage: "dc_voltage", ACVoltage: "ac_voltage", DCCurrent: "dc_current", ACCurrent: "ac_current",
	Resistance: "resistance", DiodeDrop: "diode_drop", Capacitance: "capacitance", Frequency: "frequency",
	Temperature: "temperature", Power: "power", Ratio: "ratio",
}

// Quantities lists every quantity.
func Quantities() []Quantity {
	out := make([]Quantity, 0, len(quantityNames)-1)
	for q := DCVoltage; q <= Ratio; q++ {
		out = append(out, q)
	}
	return out
}

// String returns the name used in configuration, files and the API.
func (q Quantity) String() string {
	if int(q) < len(quantityNames) {
		return quantityNames[q]
	}
	return fmt.Sprintf("quantity(%d)", uint8(q))
}

// ParseQuantity is the inverse of String.
func ParseQuantity(s string) (Quantity, error) {
	for q, name := range quantityNames {
		if name == s && s != "" {
			return Quantity(q), nil
		}
	}
	return NoQuantity, fmt.Errorf("unknown quantity %q: use one of dc_voltage, ac_voltage, dc_current, ac_current, resistance, diode_drop, capacitance, frequency, temperature, power, ratio", s)
}

// MarshalText writes the name.
func (q Quantity) MarshalText() ([]byte, error) { return []byte(q.String()), nil }

// UnmarshalText reads the name; empty is no quantity.
func (q *Quantity) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*q = NoQuantity
		return nil
	}
	v, err := ParseQuantity(string(b))
	*q = v
	return err
}

// Unit returns the base unit that the quantity is kept in.
func (q Quantity) Unit() Unit {
	switch q {
	case DCVoltage, ACVoltage, DiodeDrop:
		return Volt
	case DCCurrent, ACCurrent:
		return Ampere
	case Resistance:
		return Ohm
	case Capacitance:
		return Farad
	case Frequency:
		return Hertz
	case Temperature:
		return Celsius
	case Power:
		return Watt
	}
	return One
}

// Unit is a base unit. The zero value is the unit one.
type Unit uint8

// The base units of the bench.
const (
	One Unit = iota
	Volt
	Ampere
	Ohm
	Farad
	Hertz
	Celsius
	Watt
	Second
	Henry
	Metre
)

type unitWords struct {
	symbol, ascii, plural string
	prefixes              bool // prefixes are used when people read it
}

var units = [...]unitWords{
	One:     {"", "", "ratio", false},
	Volt:    {"V", "V", "volts", true},
	Ampere:  {"A", "A", "amperes", true},
	Ohm:     {"Ω", "ohm", "ohms", true},
	Farad:   {"F", "F", "farads", true},
	Hertz:   {"Hz", "Hz", "hertz", true},
	Celsius: {"°C", "degC", "celsius", false},
	Watt:    {"W", "W", "watts", true},
	Second:  {"s", "s", "seconds", true},
	Henry:   {"H", "H", "henries", true},
	Metre:   {"m", "m", "metres", true},
}

// Symbol returns the symbol for people: "V", "Ω", "°C".
func (u Unit) Symbol() string { return units[u].symbol }

// ASCII returns a symbol that every keyboard and terminal has: "ohm", "degC".
func (u Unit) ASCII() string { return units[u].ascii }

// Plural returns the unit's name in metric names and spoken labels: "volts".
func (u Unit) Plural() string { return units[u].plural }

// String returns Symbol.
func (u Unit) String() string { return u.Symbol() }
