package frames

import (
	"fmt"
)

// fill puts the digits in. Places are blank only in front; "0L" by itself is over
// range, wherever its point is.
func (d *Display) fill(digits string, point, power int, negative bool) error {
	from := 0
	for from < len(digits) && digits[from] == ' ' {
		from++
	}
	end := len(digits)
	for end > from && digits[end-1] == ' ' {
		end--
	}
	switch shown := digits[from:end]; {
	case shown == "":
		return fmt.Errorf("%w: its display is blank", ErrRefused)
	case shown == "0L":
		d.over(negative)
		return nil
	case end != len(digits):
		return malformed("the last places of %q are blank", digits)
	}
	for i := from; i < end; i++ {
		if digits[i] < '0' || digits[i] > '9' {
			return malformed("%q is no figure", digits)
		}
	}
	if point <= from { // ".123" with its first place blank would lose the place
		return malformed("the point of %q is in front of its figures", digits)
	}
	text := digits[from:]
	if point < len(digits) {
		text = digits[from:point] + "." + digits[point:]
	}
	if negative {
		text = "-" + text
	}
	return d.figure(text, power)
}
