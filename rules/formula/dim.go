package formula

import (
	"strconv"
	"strings"

	"steadyrail/capture"
)

// Dim is a dimension as powers of volt, ampere, second and kelvin. The zero
// value is a plain number. Volt and ampere take the place of kilogram and metre
// in the SI's base: at a bench nothing is weighed.
type Dim struct {
	V, A, S, K int
	Point      bool // a temperature on the scale of °C, no amount
}

// mostPower bounds what anyone multiplies out.
const mostPower = 12

// unit is a unit that a formula may come to.
type unit struct {
	ascii    string
	dim      Dim
	quantity capture.Quantity
}

// results are the units of [ParseUnit]. Seconds and kelvin are no quantity that
// a channel measures.
var results = []unit{
	{"V", Dim{V: 1}, capture.DCVoltage}, {"A", Dim{A: 1}, capture.DCCurrent}, {"ohm", Dim{V: 1, A: -1}, capture.Resistance},
	{"W", Dim{V: 1, A: 1}, capture.Power}, {"F", Dim{A: 1, S: 1, V: -1}, capture.Capacitance}, {"Hz", Dim{S: -1}, capture.Frequency},
	{"degC", Dim{K: 1, Point: true}, capture.Temperature}, {"K", Dim{K: 1}, capture.NoQuantity}, {"s", Dim{S: 1}, capture.NoQuantity},
	{"1", Dim{}, capture.Ratio},
}

// Units lists the units that a formula may come to; "1" is a plain number.
func Units() []string {
	out := make([]string, len(results))
	for i, u := range results {
		out[i] = u.ascii
	}
	return out
}

// ParseUnit returns the dimension of a unit of [Units] and the quantity that a
// figure in it is filed as; volts and amperes count as direct.
func ParseUnit(ascii string) (Dim, capture.Quantity, bool) {
	for _, u := range results {
		if u.ascii == ascii {
			return u.dim, u.quantity, true
		}
	}
	return Dim{}, capture.NoQuantity, false
}

// DimOf returns the dimension of what a channel measures.
func DimOf(q capture.Quantity) Dim {
	ascii := q.Unit().ASCII()
	if ascii == "" {
		ascii = "1"
	}
	d, _, _ := ParseUnit(ascii)
	return d
}

// String names the dimension by its unit: "W", "V^2/s", "a plain number".
func (d Dim) String() string {
	if d == (Dim{}) {
		return "a plain number"
	}
	for _, u := range results {
		if u.dim == d {
			return u.ascii
		}
	}
	var over, under []string
	for _, f := range []struct {
		unit  string
		power int
	}{{"V", d.V}, {"A", d.A}, {"s", d.S}, {"K", d.K}} {
		switch {
		case f.power > 0:
			over = append(over, powered(f.unit, f.power))
		case f.power < 0:
			under = append(under, powered(f.unit, -f.power))
		}
	}
	out := strings.Join(over, "*")
	if out == "" {
		out = "1"
	}
	for _, u := range under {
		out += "/" + u
	}
	return out
}

func powered(unit string, power int) string {
	if power == 1 {
		return unit
	}
	return unit + "^" + strconv.Itoa(power)
}

// times returns the dimension of a product: d and sign times e. It reports
// false beyond [mostPower].
func (d Dim) times(e Dim, sign int) (Dim, bool) {
	out := Dim{V: d.V + sign*e.V, A: d.A + sign*e.A, S: d.S + sign*e.S, K: d.K + sign*e.K}
	for _, p := range []int{out.V, out.A, out.S, out.K} {
		if p > mostPower || p < -mostPower {
			return Dim{}, false
		}
	}
	return out, true
}

// root returns the dimension of a square root, if there is one.
func (d Dim) root() (Dim, bool) {
	if d.V%2 != 0 || d.A%2 != 0 || d.S%2 != 0 || d.K%2 != 0 {
		return Dim{}, false
	}
	return Dim{V: d.V / 2, A: d.A / 2, S: d.S / 2, K: d.K / 2}, true
}
