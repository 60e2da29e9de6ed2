package sim

import (
	"math"
	"strconv"
	"strings"
)

// IdentitySupply2 is what the supply with two outputs answers to *IDN?.
const IdentitySupply2 = "steadyrail,SIM-PSU2,00240012,1.0"

// Supply2 is a supply with two outputs behind one port. Which one a command
// means is said by INSTrument:NSELect before it, or by a channel list behind it.
// Each output feeds a resistor.
type Supply2 struct {
	*Outboard
	dev    device
	rails  [2]rail2
	chosen int // index; the panel may change it, too
}

// rail2 is one output.
type rail2 struct {
	on         bool
	volts, cap float64 // set-points, V and A
	ovp, ocp   float64
	load       float64 // ohm
}

// NewSupply2 serves a supply with two outputs until Close.
func NewSupply2(b *Bench) (*Supply2, error) {
	s := &Supply2{}
	s.toReset()
	for i := range s.rails {
		s.rails[i].load = 24
	}
	s.dev = newOutboardDevice(b, "supply2", IdentitySupply2, s.toReset, s.tree())
	s.dev.refresh = func() {
		condition := uint16(bitRegulated)
		if _, _, limited := s.rails[s.chosen].terminals(); limited {
			condition = bitLimiting
		}
		if !s.rails[s.chosen].on {
			condition = 0
		}
		s.dev.status.questionable.update(condition, 0)
	}
	var err error
	s.Outboard, err = outboard(b, &s.dev)
	return s, err
}

func (s *Supply2) toReset() {
	for i := range s.rails {
		load := s.rails[i].load
		s.rails[i] = rail2{cap: 0.1, ovp: maxOverVolts, ocp: maxOverAmps, load: load}
	}
	s.chosen = 0
}

// Choose is a hand at the panel: output 1 or 2.
func (s *Supply2) Choose(output int) {
	s.dev.bench.mu.Lock()
	defer s.dev.bench.mu.Unlock()
	s.chosen = output - 1
}

// On reports whether an output is on, volts what stands at its terminals.
func (s *Supply2) On(output int) (on bool, volts float64) {
	s.dev.bench.mu.Lock()
	defer s.dev.bench.mu.Unlock()
	r := &s.rails[output-1]
	v, _, _ := r.terminals()
	return r.on, v
}

// terminals returns what an output gives into its resistor.
func (r *rail2) terminals() (volts, amps float64, limited bool) {
	if !r.on {
		return 0, 0, false
	}
	amps = r.volts / r.load
	if amps > r.cap {
		return r.cap * r.load, r.cap, true
	}
	return r.volts, amps, false
}

// meant finds the output that a command means: the list at the end of its data,
// else the chosen one. The list is taken off.
func (s *Supply2) meant(c *call) (*rail2, *scpiError) {
	n := len(c.args)
	if n == 0 || !strings.HasPrefix(c.args[n-1], "(") {
		return &s.rails[s.chosen], nil
	}
	list := c.args[n-1]
	c.args = c.args[:n-1]
	switch list {
	case "(@1)":
		return &s.rails[0], nil
	case "(@2)":
		return &s.rails[1], nil
	}
	return nil, errIllegalParameter
}

func (s *Supply2) tree() []command {
	volts, amps := "[SOURce:]VOLTage", "[SOURce:]CURRent"
	return []command{
		{pattern: "INSTrument:NSELect", set: s.choose, get: func(*call) (string, *scpiError) { return strconv.Itoa(s.chosen + 1), nil }},
		s.level(volts+"[:LEVel][:IMMediate][:AMPLitude]", "V", 0, maxVolts, func(r *rail2) *float64 { return &r.volts }),
		s.level(amps+"[:LEVel][:IMMediate][:AMPLitude]", "A", 0.001, maxAmps, func(r *rail2) *float64 { return &r.cap }),
		s.level(volts+":PROTection[:LEVel]", "V", 0.5, maxOverVolts, func(r *rail2) *float64 { return &r.ovp }),
		s.level(amps+":PROTection[:LEVel]", "A", 0.01, maxOverAmps, func(r *rail2) *float64 { return &r.ocp }),
		{pattern: "OUTPut[:STATe]", set: s.setOutput, get: s.onMeant(func(r *rail2) string {
			if r.on {
				return "1"
			}
			return "0"
		})},
		{pattern: "MEASure[:SCALar]:VOLTage[:DC]", get: s.measured(func(r *rail2) string {
			v, _, _ := r.terminals()
			return rounded(s.dev.bench.seen(nSupply2, v), readBackV)
		})},
		{pattern: "MEASure[:SCALar]:CURRent[:DC]", get: s.measured(func(r *rail2) string {
			_, i, _ := r.terminals()
			return rounded(i, readBackA)
		})},
	}
}

func (s *Supply2) choose(c *call) *scpiError {
	v, err := c.number(0, "", 1, 2, 1)
	if err == nil {
		s.chosen = int(math.Round(v)) - 1
	}
	return err
}

func (s *Supply2) onMeant(say func(*rail2) string) func(*call) (string, *scpiError) {
	return func(c *call) (string, *scpiError) {
		r, err := s.meant(c)
		if err != nil {
			return "", err
		}
		if len(c.args) > 0 {
			return "", errNotAllowed
		}
		return say(r), nil
	}
}

// measured answers with what it found when it was asked, after the panel's lag.
func (s *Supply2) measured(say func(*rail2) string) func(*call) (string, *scpiError) {
	look := s.onMeant(say)
	return func(c *call) (string, *scpiError) {
		text, err := look(c)
		if err == nil && !c.wait(panelLag) {
			return "", nil
		}
		return text, err
	}
}

// level makes the command for a set-point of an output.
func (s *Supply2) level(pattern, inUnit string, lo, hi float64, at func(*rail2) *float64) command {
	return command{pattern: pattern,
		set: func(c *call) *scpiError {
			r, err := s.meant(c)
			if err != nil {
				return err
			}
			v, err := c.number(0, inUnit, lo, hi, lo)
			if err == nil {
				*at(r) = v
			}
			return err
		},
		get: s.onMeant(func(r *rail2) string { return rounded(*at(r), 3) }),
	}
}

func (s *Supply2) setOutput(c *call) *scpiError {
	r, err := s.meant(c)
	if err != nil {
		return err
	}
	if len(c.args) == 0 {
		return errMissing
	}
	on, err := readBool(c.args[0])
	if err == nil {
		r.on = on
	}
	return err
}
