package sim

import (
	"strings"
	"time"

	"steadyrail/capture"
)

// device is the part that all instruments share: identity, command tree,
// status, and the loop from a message to its answer. Everything in it is
// guarded by the bench's lock.
type device struct {
	name     string
	identity string // the answer to *IDN?
	commands []command
	status   status
	resets   int           // how often *RST was received
	reset    func()        // what *RST does here
	refresh  func()        // brings the registers up to date before a unit; may be nil
	asleep   bool          // switched itself off: hears nothing, says nothing
	autoOff  time.Duration // 0: never
	awake    capture.Instant

	bench *Bench
}

// call is one program message unit being executed.
type call struct {
	dev     *device
	args    []string
	waiting bool            // an answer of this message waits already
	stop    <-chan struct{} // closed when the link goes down
	gone    bool            // it did, while the call waited
}

// wait lets bench time pass with the bench unlocked. It reports false when the
// link went down meanwhile.
func (c *call) wait(d time.Duration) bool {
	mu := &c.dev.bench.mu
	mu.Unlock()
	defer mu.Lock()
	clock := c.dev.bench.clock
	if leashed, ok := clock.(*Clock); ok {
		leashed.Slacken(d) // a clock that waits for an answer must not stop it
	}
	if !sleep(clock, d, c.stop) {
		c.gone = true
	}
	return !c.gone
}

func sleep(clock capture.Clock, d time.Duration, stop <-chan struct{}) bool {
	due, giveUp := clock.After(d)
	defer giveUp()
	select {
	case <-due:
		return true
	case <-stop:
		return false
	}
}

// number reads argument i, or MINimum, MAXimum and DEFault.
func (c *call) number(i int, inUnit string, lo, hi, def float64) (float64, *scpiError) {
	if i >= len(c.args) {
		return 0, errMissing
	}
	switch strings.ToUpper(c.args[i]) {
	case "MIN", "MINIMUM":
		return lo, nil
	case "MAX", "MAXIMUM":
		return hi, nil
	case "DEF", "DEFAULT":
		return def, nil
	}
	v, err := readNumber(c.args[i], inUnit)
	if err == nil && (v < lo || v > hi) {
		err = errOutOfRange
	}
	return v, err
}

// exec answers one message. ok is false when there is nothing to send.
func (d *device) exec(line string, stop <-chan struct{}) (answer string, ok bool) {
	d.bench.mu.Lock()
	defer d.bench.mu.Unlock()
	defer d.bench.tellPanel() // before the answer goes out
	d.bench.catchUp()
	d.tire()
	if d.asleep {
		return "", false
	}
	if i := strings.IndexFunc(line, func(r rune) bool { return r != '\t' && (r < ' ' || r > '~') }); i >= 0 {
		d.status.push(errCharacter)
		return "", false
	}
	var answers []string
	var level []string
	for _, u := range splitMessage(line) {
		c := &call{dev: d, args: u.args, stop: stop, waiting: len(answers) > 0}
		text, err := d.unit(c, u, &level)
		if c.gone {
			return "", false
		}
		if err != nil {
			d.status.push(err)
			break
		}
		if u.query {
			answers = append(answers, text)
		}
	}
	return strings.Join(answers, ";"), len(answers) > 0
}

func (d *device) unit(c *call, u unit, level *[]string) (string, *scpiError) {
	cmd, next, err := find(d.commands, u, *level)
	if err != nil {
		return "", err.about(u.header)
	}
	*level = next
	if d.refresh != nil {
		d.refresh()
	}
	if u.query {
		return cmd.get(c)
	}
	return "", cmd.set(c)
}

// tire switches a meter off that was left alone for too long. Remote requests
// do not keep a handheld awake.
func (d *device) tire() {
	if d.autoOff > 0 && d.bench.world.now.Sub(d.awake) >= d.autoOff {
		d.asleep = true
	}
}

func (d *device) wake() {
	d.asleep = false
	d.awake = d.bench.world.now
}

// noArgs wraps a command that takes no data.
func noArgs(f func(*call) *scpiError) func(*call) *scpiError {
	return func(c *call) *scpiError {
		if len(c.args) > 0 {
			return errNotAllowed
		}
		return f(c)
	}
}
