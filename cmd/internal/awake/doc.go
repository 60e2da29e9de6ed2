// Package awake keeps a computer from falling asleep while a soak runs. What it
// asks depends on the system: the login manager's inhibitor on Linux, a child
// process on macOS, the execution state of a thread on Windows. Elsewhere, and
// where nobody answers, it says that it cannot.
package awake

import "errors"

// ErrCannot is wrapped where nothing keeps the computer awake.
var ErrCannot = errors.New("nothing here keeps the computer awake")

// who is the name under which the system lists the inhibitor.
const who = "steadyrail"
