// Package pedal listens to a foot pedal of its own. A pedal is a keyboard to the
// computer: its keys go to whatever window has the focus. On Linux its input
// device can be read directly and grabbed, so that nobody else gets them; it is
// found by who it is, not by its number, which changes when it is plugged in
// again. Elsewhere the page of the walk takes any key.
//
// [Listen] owns its device and reconnects after it was unplugged. [Decoder]
// reads the event records of the kernel (struct input_event of linux/input.h)
// of 32-bit and 64-bit systems; it knows neither files nor clocks.
package pedal

import "time"

// LongFrom is how long a pedal is held down for a long press.
const LongFrom = 600 * time.Millisecond

// Press is one press that has ended, or that has lasted for [LongFrom].
type Press struct{ Long bool }

// Config names the pedal. Input is its path by identity,
// "/dev/input/by-id/usb-...-event-kbd", or the name that it says, in full.
type Config struct{ Input string }

// Device is an input device as the system lists it.
type Device struct {
	Input string // what to write into the configuration: a path by identity, else the name
	Name  string // as it says itself
	Phys  string // where it is plugged in
	Few   bool   // it has a dozen keys at most: a pedal rather than a keyboard
}
