package wire

import (
	"fmt"
	"slices"
	"time"
)

// Line is how bytes and lines travel on a link. What is zero takes the value of
// [DefaultLine]; what an address says wins over what a model says, see
// [Line.With]. The serial settings mean nothing on TCP.
type Line struct {
	Baud       int    // bits per second
	DataBits   int    // 5 to 8
	Parity     string // "none", "odd", "even", "mark", "space"
	StopBits   string // "1", "1.5", "2"
	DTR, RTS   string // "on" or "off": levels after opening; they power some opto-coupled cables
	Levels     string // "any": a port that does not do DTR or RTS as stated is used all the same and says so, see [Conn.Unset]; "needed": it is refused
	LevelsFor  string // what the levels are needed for, for the message
	Handshake  string // "none", "rts-cts" or "xon-xoff"; the last one takes the bytes 11 and 13 (hexadecimal) for itself
	Terminator string // "LF", "CRLF" or "CR": sent after each request; a CR before LF is dropped on receipt

	ReadTimeout   time.Duration // longest single wait of the goroutine, hence the delay of a cancelled context
	AnswerTimeout time.Duration // from the last byte sent to the terminator of the answer
	WriteTimeout  time.Duration // a write that takes longer is stuck
	Quiet         time.Duration // silence that Drain waits for; at least two characters' time
	Pause         time.Duration // least time from the last byte sent or heard to the next request
	Echo          string        // "on": the far end or the adapter sends back all that it was sent; dropped and compared
	Limit         int           // longest line in bytes, without terminator

	// Opening is sent line by line after opening, Closing before the link is
	// closed on purpose, and never after a loss. Nobody answers them. What they
	// may hold is checked where models are read: they switch nothing.
	Opening, Closing []string
}

// DefaultLine is 9600 8N1, LF, and patient enough for an integrating meter.
func DefaultLine() Line {
	return Line{
		Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", DTR: "on", RTS: "on", Handshake: "none", Terminator: "LF",
		ReadTimeout: 50 * time.Millisecond, AnswerTimeout: time.Second, WriteTimeout: 2 * time.Second,
		Quiet: 40 * time.Millisecond, Echo: "off", Limit: 1024,
	}
}

// With returns the line with everything that over states in its place.
func (l Line) With(over Line) Line {
	num := func(p *int, v int) {
		if v != 0 {
			*p = v
		}
	}
	text := func(p *string, v string) {
		if v != "" {
			*p = v
		}
	}
	span := func(p *time.Duration, v time.Duration) {
		if v != 0 {
			*p = v
		}
	}
	num(&l.Baud, over.Baud)
	num(&l.DataBits, over.DataBits)
	text(&l.Parity, over.Parity)
	text(&l.StopBits, over.StopBits)
	text(&l.DTR, over.DTR)
	text(&l.RTS, over.RTS)
	text(&l.Levels, over.Levels)
	text(&l.LevelsFor, over.LevelsFor)
	text(&l.Handshake, over.Handshake)
	text(&l.Echo, over.Echo)
	text(&l.Terminator, over.Terminator)
	span(&l.ReadTimeout, over.ReadTimeout)
	span(&l.AnswerTimeout, over.AnswerTimeout)
	span(&l.WriteTimeout, over.WriteTimeout)
	span(&l.Quiet, over.Quiet)
	span(&l.Pause, over.Pause)
	num(&l.Limit, over.Limit)
	if over.Opening != nil {
		l.Opening = over.Opening
	}
	if over.Closing != nil {
		l.Closing = over.Closing
	}
	return l
}

// Validate checks every setting; zero is allowed and means the default. The
// error wraps [ErrAddress].
func (l Line) Validate() error {
	if err := l.problem(); err != nil {
		return fmt.Errorf("%w: %w", ErrAddress, err)
	}
	return nil
}

// problem is Validate without the sentinel.
func (l Line) problem() error {
	bad := func(what string, got any, want string) error {
		return fmt.Errorf("%s %v: use %s", what, got, want)
	}
	among := func(v string, list ...string) bool { return v == "" || slices.Contains(list, v) }
	switch {
	case l.Baud < 0 || l.Baud > 4_000_000:
		return bad("baud", l.Baud, "a rate of 1 to 4000000, usually 9600, 19200 or 115200")
	case l.DataBits != 0 && (l.DataBits < 5 || l.DataBits > 8):
		return bad("bits", l.DataBits, "5, 6, 7 or 8")
	case !among(l.Parity, "none", "odd", "even", "mark", "space"):
		return bad("parity", l.Parity, "none, odd, even, mark or space")
	case !among(l.StopBits, "1", "1.5", "2"):
		return bad("stop", l.StopBits, "1, 1.5 or 2")
	case !among(l.DTR, "on", "off") || !among(l.RTS, "on", "off"):
		return bad("dtr or rts", l.DTR+l.RTS, "on or off")
	case !among(l.Levels, "any", "needed"):
		return bad("levels", l.Levels, "any or needed")
	case !among(l.Handshake, "none", "rts-cts", "xon-xoff"):
		return bad("handshake", l.Handshake, "none, rts-cts or xon-xoff")
	case l.Handshake == "rts-cts" && l.RTS == "off":
		return bad("rts", l.RTS, "on with the handshake rts-cts, which moves that line by itself")
	case !among(l.Echo, "on", "off"):
		return bad("echo", l.Echo, "on or off")
	case !among(l.Terminator, "LF", "CRLF", "CR"):
		return bad("terminator", l.Terminator, "LF, CRLF or CR")
	case l.Limit < 0 || l.Limit > 1<<20:
		return bad("limit", l.Limit, "at most 1048576 bytes")
	case l.ReadTimeout < 0 || l.AnswerTimeout < 0 || l.WriteTimeout < 0 || l.Quiet < 0:
		return bad("time-out", "below zero", "a positive time, such as 500ms")
	case l.Pause < 0 || l.Pause > longestPause:
		return bad("pause", l.Pause, "0s to 10s, such as 20ms")
	}
	return l.validatePhrases()
}

// longestPause: a longer one is a slip of the unit.
const longestPause = 10 * time.Second

func (l Line) validatePhrases() error {
	for _, p := range slices.Concat(l.Opening, l.Closing) {
		if p == "" || !sendable(p) {
			return fmt.Errorf("opening or closing phrase %q: use printable ASCII, one line each", p)
		}
	}
	return nil
}

// sendable reports whether a line can be sent: printable ASCII.
func sendable(line string) bool {
	for i := range len(line) {
		if line[i] < ' ' || line[i] > '~' {
			return false
		}
	}
	return true
}

// ending returns the bytes sent after each request.
func (l Line) ending() string {
	switch l.Terminator {
	case "CR":
		return "\r"
	case "CRLF":
		return "\r\n"
	}
	return "\n"
}

// quiet returns how long Drain listens into silence: Quiet, but never less than
// two characters of eleven bits and one tick of an adapter's 16 ms buffer.
func (l Line) quiet() time.Duration {
	const adapter = 20 * time.Millisecond
	gap := time.Duration(0)
	if l.Baud > 0 {
		gap = 2 * 11 * time.Second / time.Duration(l.Baud)
	}
	return max(l.Quiet, gap, adapter)
}
