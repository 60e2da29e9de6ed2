package kind

import (
	"math"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// unit is the unit of what the judge listens to.
func (b *base) unit() capture.Unit {
	q := b.seat.Channel.Quantity
	if q == capture.NoQuantity {
		q = b.last.Quantity
	}
	if q == capture.NoQuantity {
		return capture.Volt
	}
	return q.Unit()
}

// figure prints a value with the digits of the newest reading.
func (b *base) figure(v float64) string { return b.unit().Text(v, b.last.Resolution) }

// digits prints a value that no reading showed: a spread, a slope, a limit. It
// has two digits of its own.
func (b *base) digits(v float64) string { return b.unit().Text(v, twoDigits(v)) }

// subject names what is judged: the rail, or the one channel of a rule.
func (b *base) subject() string {
	if b.Rule.Of == "" {
		return b.Rail.Name
	}
	return b.Rail.Name + ", " + string(b.Rule.Of)
}

// twoDigits is the resolution that leaves two digits of v.
func twoDigits(v float64) float64 {
	_, exponent, _ := strings.Cut(strconv.FormatFloat(v, 'e', 1, 64), "e")
	power, err := strconv.Atoi(exponent)
	if v == 0 || err != nil {
		return 0
	}
	return math.Pow10(power - 1)
}
