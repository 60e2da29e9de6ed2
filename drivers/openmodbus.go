package drivers

import (
	"fmt"
	"strconv"

	"steadyrail/drivers/modbus"
	"steadyrail/drivers/wire"
)

// openModbus makes an instrument that is read by registers.
func openModbus(b build) (Instrument, error) {
	address, err := wire.ParseAddress(b.cfg.Link)
	if err != nil {
		return nil, err
	}
	unit, framing, err := modbusUnit(address)
	if err != nil {
		return nil, err
	}
	return opened(modbus.New(modbus.Options{
		Info: b.info, Plan: b.model.Registers, Unit: unit, Framing: framing, Expect: b.cfg.Expect, Every: b.cfg.Every,
		OffExit: b.cfg.OnExit == ExitOff, Dial: b.dial, Baud: b.baud,
	}))
}

// modbusUnit reads whom a link reaches, and in which framing: 1 unless stated,
// and RTU on everything but a network port.
func modbusUnit(a wire.Address) (int, modbus.Framing, error) {
	framing := modbus.RTU
	if a.Framing == "tcp" || a.Framing == "" && a.Kind == wire.KindTCP {
		framing = modbus.TCP
	}
	if a.Unit == "" {
		return 1, framing, nil
	}
	unit, err := strconv.Atoi(a.Unit)
	if err != nil || strconv.Itoa(unit) != a.Unit {
		return 0, framing, fmt.Errorf("option address=%q is no unit address: want 1 to 247", a.Unit)
	}
	return unit, framing, modbus.CheckUnit(unit, framing)
}

// modbusLink completes the line with the silence that RTU wants before each
// request, at the rate that will be in force, unless a pause is stated.
func modbusLink(m *Model, a wire.Address) error {
	switch a.Kind {
	case wire.KindSerial, wire.KindUSB, wire.KindTCP:
	default:
		return fmt.Errorf("registers travel on serial, usb-serial and tcp, not on %s", a.Kind)
	}
	_, framing, err := modbusUnit(a)
	if err == nil && framing == modbus.RTU && m.Line.Pause == 0 {
		m.Line.Pause = modbus.Silence(wire.DefaultLine().With(m.Line).With(a.Line).Baud)
	}
	return err
}
