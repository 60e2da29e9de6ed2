package sim

import "strings"

// IdentityLoad is what the electronic load answers to *IDN?.
const IdentityLoad = "steadyrail,SIM-LOAD,00550003,1.0"

// ELoad is an electronic load that draws a constant current from a source of
// its own: 12 V behind 0.1 ohm.
type ELoad struct {
	*Outboard
	dev     device
	on      bool
	amps    float64
	current bool // the mode; it wakes up in another one
}

// What the load and its source can do.
const (
	loadSource = 12.0 // V
	loadInner  = 0.1  // ohm
	loadMost   = 30.0 // A
)

// NewELoad serves an electronic load until Close.
func NewELoad(b *Bench) (*ELoad, error) {
	l := &ELoad{}
	l.dev = newOutboardDevice(b, "load", IdentityLoad, func() { l.on, l.amps, l.current = false, 0, false }, l.tree())
	var err error
	l.Outboard, err = outboard(b, &l.dev)
	return l, err
}

// Draws returns the current that the load draws, in ampere.
func (l *ELoad) Draws() float64 {
	l.dev.bench.mu.Lock()
	defer l.dev.bench.mu.Unlock()
	return l.draws()
}

func (l *ELoad) draws() float64 {
	if !l.on || !l.current {
		return 0
	}
	return l.amps
}

func (l *ELoad) tree() []command {
	mode := command{pattern: "[SOURce:]FUNCtion[:MODE]", set: l.setMode, get: func(*call) (string, *scpiError) {
		if l.current {
			return "CURR", nil
		}
		return "RES", nil
	}}
	return []command{
		mode,
		{pattern: "[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]", set: func(c *call) *scpiError {
			v, err := c.number(0, "A", 0, loadMost, 0)
			if err == nil {
				l.amps = v
			}
			return err
		}, get: func(*call) (string, *scpiError) { return rounded(l.amps, 3), nil }},
		{pattern: "INPut[:STATe]", set: setSwitch(&l.on), get: getSwitch(&l.on)},
		{pattern: "MEASure[:SCALar]:VOLTage[:DC]", get: l.measured(func() float64 {
			return l.dev.bench.seen(nLoad, loadSource-loadInner*l.draws())
		})},
		{pattern: "MEASure[:SCALar]:CURRent[:DC]", get: l.measured(l.draws)},
	}
}

// measured answers with what it found when it was asked, after the panel's lag.
func (l *ELoad) measured(look func() float64) func(*call) (string, *scpiError) {
	return func(c *call) (string, *scpiError) {
		text := rounded(look(), 3)
		if !c.wait(panelLag) {
			return "", nil
		}
		return text, nil
	}
}

// setMode is refused while the input is on: what is drawn would jump.
func (l *ELoad) setMode(c *call) *scpiError {
	switch {
	case len(c.args) == 0:
		return errMissing
	case l.on && !l.current:
		return errSettingsConflict
	}
	switch strings.ToUpper(c.args[0]) {
	case "CURR", "CURRENT":
		l.current = true
	case "RES", "RESISTANCE":
		l.current = false
	default:
		return errIllegalParameter
	}
	return nil
}
