package sim

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// tree lists the multimeter's own commands.
func (m *multimeter) tree() []command {
	list := []command{
		{pattern: "READ", get: m.measure},
		{pattern: "FETCh", get: func(*call) (string, *scpiError) {
			if m.lastAnswer == "" {
				return "", errStale
			}
			return m.lastAnswer, nil
		}},
		{pattern: "INITiate[:IMMediate]", set: noArgs(func(c *call) *scpiError {
			_, err := m.measure(c)
			return err
		})},
		{pattern: "ABORt", set: noArgs(nothing)},
		{pattern: "CONFigure", get: func(*call) (string, *scpiError) {
			return fmt.Sprintf(`"%s %s,%s"`, m.active.name, nr3(m.active.span()), nr3(m.active.resolution())), nil
		}},
		{pattern: "[SENSe:]FUNCtion[:ON]", set: m.setFunction, get: func(*call) (string, *scpiError) {
			return `"` + m.active.name + `"`, nil
		}},
		{pattern: "[SENSe:]ZERO:AUTO", set: setSwitch(&m.autoZero), get: getSwitch(&m.autoZero)},
		{pattern: "[SENSe:]VOLTage[:DC]:ZERO:AUTO", set: setSwitch(&m.autoZero), get: getSwitch(&m.autoZero)},
		{pattern: "[SENSe:]VOLTage[:DC]:IMPedance:AUTO", set: setSwitch(&m.highImpedance), get: getSwitch(&m.highImpedance)},
		{pattern: "INPut:IMPedance:AUTO", set: setSwitch(&m.highImpedance), get: getSwitch(&m.highImpedance)},
		{pattern: "SAMPle:COUNt", set: m.setCount, get: func(*call) (string, *scpiError) { return strconv.Itoa(m.count), nil }},
		{pattern: "TRIGger:COUNt", set: nothing, get: func(*call) (string, *scpiError) { return "1", nil }},
		{pattern: "TRIGger:DELay", set: nothing, get: func(*call) (string, *scpiError) { return nr3(0), nil }},
		{pattern: "TRIGger:DELay:AUTO", set: nothing, get: func(*call) (string, *scpiError) { return "0", nil }},
		{pattern: "TRIGger:SOURce", set: immediateOnly, get: func(*call) (string, *scpiError) { return "IMM", nil }},
		{pattern: "DISPlay[:STATe]", set: nothing, get: func(*call) (string, *scpiError) { return "1", nil }},
		{pattern: "DISPlay:TEXT[:DATA]", set: nothing},
		{pattern: "DISPlay:TEXT:CLEar", set: nothing},
	}
	list = append(list, m.functionTree("VOLTage[:DC]", &m.volts)...)
	list = append(list, m.functionTree("RESistance", &m.ohms)...)
	return append(list, m.functionTree("FRESistance", &m.fourWire)...)
}

func (m *multimeter) functionTree(name string, f *function) []command {
	sense := "[SENSe:]" + name
	rangeSet := func(c *call) *scpiError { return m.afterRange(c, f) }
	rangeGet := func(c *call) (string, *scpiError) { return nr3(f.span()), nil }
	return []command{
		{pattern: "CONFigure[:SCALar]:" + name, set: func(c *call) *scpiError { return m.configure(c, f) }},
		{pattern: "MEASure[:SCALar]:" + name, get: func(c *call) (string, *scpiError) {
			if err := m.configure(c, f); err != nil {
				return "", err
			}
			return m.measure(c)
		}},
		{pattern: sense + ":RANGe[:UPPer]", set: rangeSet, get: rangeGet},
		{pattern: sense + ":RANGe:AUTO", set: setSwitch(&f.auto), get: getSwitch(&f.auto)},
		{pattern: sense + ":NPLCycles", set: func(c *call) *scpiError {
			v, err := c.number(0, "", 0.02, 100, 10)
			if err == nil {
				f.cycles = v
			}
			return err
		}, get: func(*call) (string, *scpiError) { return nr3(f.cycles), nil }},
		{pattern: sense + ":APERture", set: func(c *call) *scpiError {
			v, err := c.number(0, "S", 0.02*lineCycle.Seconds(), 100*lineCycle.Seconds(), 10*lineCycle.Seconds())
			if err == nil {
				f.cycles = v / lineCycle.Seconds()
			}
			return err
		}, get: func(*call) (string, *scpiError) { return nr3(f.aperture().Seconds()), nil }},
		{pattern: sense + ":RESolution", set: func(c *call) *scpiError { return f.setResolution(c, 0) },
			get: func(*call) (string, *scpiError) { return nr3(f.resolution()), nil }},
		{pattern: sense + ":NULL[:STATe]", set: setSwitch(&f.null), get: getSwitch(&f.null)},
		{pattern: sense + ":NULL:VALue", set: func(c *call) *scpiError {
			v, err := c.number(0, f.unit, -1e9, 1e9, 0)
			if err == nil {
				f.nullValue = v
			}
			return err
		}, get: func(*call) (string, *scpiError) { return nr3(f.nullValue), nil }},
	}
}

// configure selects a function with a range and a resolution, both optional.
func (m *multimeter) configure(c *call, f *function) *scpiError {
	before := *f
	f.toDefault()
	if len(c.args) > 2 {
		*f = before
		return errNotAllowed
	}
	if len(c.args) > 0 && !isAuto(c.args[0]) {
		v, err := c.number(0, f.unit, f.ranges[0], f.ranges[len(f.ranges)-1], 0)
		if err == nil {
			err = f.setRange(v)
		}
		if err != nil {
			*f = before
			return err
		}
	}
	if len(c.args) > 1 {
		if err := f.setResolution(c, 1); err != nil {
			*f = before
			return err
		}
	}
	m.choose(f)
	return nil
}

func isAuto(arg string) bool {
	switch strings.ToUpper(arg) {
	case "AUTO", "DEF", "DEFAULT":
		return true
	}
	return false
}

func (m *multimeter) choose(f *function) {
	m.active, m.lastAnswer, m.count = f, "", 1
	m.pushCurrent()
}

func (m *multimeter) setFunction(c *call) *scpiError {
	if len(c.args) == 0 {
		return errMissing
	}
	name, err := readString(c.args[0])
	if err != nil {
		return err
	}
	switch strings.ToUpper(name) {
	case "VOLT", "VOLTAGE", "VOLT:DC", "VOLTAGE:DC":
		m.choose(&m.volts)
	case "RES", "RESISTANCE":
		m.choose(&m.ohms)
	case "FRES", "FRESISTANCE":
		m.choose(&m.fourWire)
	default:
		return errIllegalParameter
	}
	return nil
}

// afterRange sets a range; the test current may change with it.
func (m *multimeter) afterRange(c *call, f *function) *scpiError {
	v, err := c.number(0, f.unit, f.ranges[0], f.ranges[len(f.ranges)-1], f.ranges[2])
	if err != nil {
		return err
	}
	err = f.setRange(v)
	m.pushCurrent()
	return err
}

// setResolution picks the shortest aperture that gives the resolution asked
// for.
func (f *function) setResolution(c *call, i int) *scpiError {
	v, err := c.number(i, f.unit, 0, f.span(), f.span()*1e-6)
	if err != nil {
		return err
	}
	switch share := v / f.span(); {
	case share >= 0.9e-5:
		f.cycles = 0.2
	case share >= 0.9e-6:
		f.cycles = 1
	default:
		f.cycles = 10
	}
	return nil
}

func (m *multimeter) setCount(c *call) *scpiError {
	v, err := c.number(0, "", 1, maxPerRead, 1)
	if err == nil {
		m.count = int(math.Round(v))
	}
	return err
}

func immediateOnly(c *call) *scpiError {
	if len(c.args) == 0 {
		return errMissing
	}
	switch strings.ToUpper(c.args[0]) {
	case "IMM", "IMMEDIATE":
		return nil
	}
	return errIllegalParameter
}

func setSwitch(at *bool) func(*call) *scpiError {
	return func(c *call) *scpiError {
		if len(c.args) == 0 {
			return errMissing
		}
		v, err := readBool(c.args[0])
		if err == nil {
			*at = v
		}
		return err
	}
}

func getSwitch(at *bool) func(*call) (string, *scpiError) {
	return func(*call) (string, *scpiError) {
		if *at {
			return "1", nil
		}
		return "0", nil
	}
}
