package sim

import (
	"fmt"
	"strconv"
	"strings"
)

// scpiError is an entry of the error queue, numbered after SCPI-1999 volume 2,
// 21.8.
type scpiError struct {
	number int
	text   string
	detail string // what the instrument adds, such as the header
}

func (e scpiError) String() string {
	text := e.text
	if e.detail != "" {
		text += ";" + e.detail
	}
	if len(text) > 255 {
		text = text[:255]
	}
	return fmt.Sprintf(`%d,"%s"`, e.number, strings.ReplaceAll(text, `"`, `'`))
}

func (e *scpiError) about(detail string) *scpiError {
	return &scpiError{number: e.number, text: e.text, detail: detail}
}

var (
	noError             = scpiError{0, "No error", ""}
	errCharacter        = &scpiError{-101, "Invalid character", ""}
	errDataType         = &scpiError{-104, "Data type error", ""}
	errNotAllowed       = &scpiError{-108, "Parameter not allowed", ""}
	errMissing          = &scpiError{-109, "Missing parameter", ""}
	errHeader           = &scpiError{-113, "Undefined header", ""}
	errHeaderSuffix     = &scpiError{-114, "Header suffix out of range", ""}
	errNumber           = &scpiError{-121, "Invalid character in number", ""}
	errExponent         = &scpiError{-123, "Exponent too large", ""}
	errSuffix           = &scpiError{-131, "Invalid suffix", ""}
	errSettingsConflict = &scpiError{-221, "Settings conflict", ""}
	errOutOfRange       = &scpiError{-222, "Data out of range", ""}
	errIllegalParameter = &scpiError{-224, "Illegal parameter value", ""}
	errStale            = &scpiError{-230, "Data corrupt or stale", ""}
	errQueueOverflow    = &scpiError{-350, "Queue overflow", ""}
	errInputOverrun     = &scpiError{-363, "Input buffer overrun", ""}
)

// queueLength is a common size; on overflow the last entry turns into -350.
const queueLength = 20

// Bits of the standard event status register (IEEE 488.2, 11.5.1).
const (
	eventComplete  = 1 << 0
	eventQuery     = 1 << 2
	eventDevice    = 1 << 3
	eventExecution = 1 << 4
	eventCommand   = 1 << 5
	eventPowerOn   = 1 << 7
)

// status is an instrument's status reporting: the error queue and the
// registers of IEEE 488.2 and SCPI.
type status struct {
	queue        []scpiError
	esr          uint8
	ese, sre     uint8
	questionable register
	operation    register
}

// register is a SCPI status register; every condition bit that rises is an
// event.
type register struct {
	condition, event, enable uint16
}

func (r *register) update(condition, seen uint16) {
	r.event |= (condition | seen) &^ r.condition
	r.condition = condition
}

func (s *status) push(e *scpiError) {
	switch {
	case e.number <= -400:
		s.esr |= eventQuery
	case e.number <= -300:
		s.esr |= eventDevice
	case e.number <= -200:
		s.esr |= eventExecution
	case e.number <= -100:
		s.esr |= eventCommand
	}
	if len(s.queue) < queueLength {
		s.queue = append(s.queue, *e)
		return
	}
	s.queue[queueLength-1] = *errQueueOverflow
	s.esr |= eventDevice
}

func (s *status) pop() scpiError {
	if len(s.queue) == 0 {
		return noError
	}
	e := s.queue[0]
	s.queue = s.queue[1:]
	return e
}

// clear is *CLS: events and errors go, enables stay.
func (s *status) clear() {
	s.queue, s.esr, s.questionable.event, s.operation.event = nil, 0, 0, 0
}

// byte is the status byte with the master summary in bit 6.
func (s *status) byte(answerWaiting bool) uint8 {
	var b uint8
	set := func(bit uint8, on bool) {
		if on {
			b |= 1 << bit
		}
	}
	set(2, len(s.queue) > 0)
	set(3, s.questionable.event&s.questionable.enable != 0)
	set(4, answerWaiting)
	set(5, s.esr&s.ese != 0)
	set(7, s.operation.event&s.operation.enable != 0)
	if b&s.sre&^(1<<6) != 0 {
		b |= 1 << 6
	}
	return b
}

// commonCommands are those that every instrument here understands.
func commonCommands() []command {
	list := []command{
		{pattern: "*IDN", get: func(c *call) (string, *scpiError) { return c.dev.identity, nil }},
		{pattern: "*CLS", set: func(c *call) *scpiError { c.dev.status.clear(); return nil }},
		{pattern: "*RST", set: func(c *call) *scpiError { c.dev.resets++; c.dev.reset(); return nil }},
		{pattern: "*OPC", set: func(c *call) *scpiError { c.dev.status.esr |= eventComplete; return nil },
			get: func(*call) (string, *scpiError) { return "1", nil }},
		{pattern: "*WAI", set: func(*call) *scpiError { return nil }},
		{pattern: "*TST", get: func(*call) (string, *scpiError) { return "0", nil }},
		{pattern: "*ESR", get: func(c *call) (string, *scpiError) {
			v := c.dev.status.esr
			c.dev.status.esr = 0
			return strconv.Itoa(int(v)), nil
		}},
		{pattern: "*STB", get: func(c *call) (string, *scpiError) {
			return strconv.Itoa(int(c.dev.status.byte(c.waiting))), nil
		}},
		byteRegister("*ESE", func(c *call) *uint8 { return &c.dev.status.ese }),
		byteRegister("*SRE", func(c *call) *uint8 { return &c.dev.status.sre }),
		{pattern: "SYSTem:ERRor[:NEXT]", get: func(c *call) (string, *scpiError) { return c.dev.status.pop().String(), nil }},
		{pattern: "SYSTem:ERRor:COUNt", get: func(c *call) (string, *scpiError) { return strconv.Itoa(len(c.dev.status.queue)), nil }},
		{pattern: "SYSTem:VERSion", get: func(*call) (string, *scpiError) { return "1999.0", nil }},
		{pattern: "SYSTem:REMote", set: nothing},
		{pattern: "SYSTem:LOCal", set: nothing},
		{pattern: "SYSTem:RWLock", set: nothing},
		{pattern: "SYSTem:BEEPer[:IMMediate]", set: nothing},
		{pattern: "STATus:PRESet", set: func(c *call) *scpiError {
			c.dev.status.questionable.enable, c.dev.status.operation.enable = 0, 0
			return nil
		}},
	}
	list = append(list, registerCommands("STATus:QUEStionable", func(c *call) *register { return &c.dev.status.questionable })...)
	return append(list, registerCommands("STATus:OPERation", func(c *call) *register { return &c.dev.status.operation })...)
}

func nothing(*call) *scpiError { return nil }

func byteRegister(pattern string, at func(*call) *uint8) command {
	return command{pattern: pattern,
		set: func(c *call) *scpiError {
			v, err := c.number(0, "", 0, 255, 0)
			if err == nil {
				*at(c) = uint8(v)
			}
			return err
		},
		get: func(c *call) (string, *scpiError) { return strconv.Itoa(int(*at(c))), nil },
	}
}

func registerCommands(root string, at func(*call) *register) []command {
	number := func(v uint16) (string, *scpiError) { return strconv.Itoa(int(v)), nil }
	return []command{
		{pattern: root + "[:EVENt]", get: func(c *call) (string, *scpiError) {
			v := at(c).event
			at(c).event = 0
			return number(v)
		}},
		{pattern: root + ":CONDition", get: func(c *call) (string, *scpiError) { return number(at(c).condition) }},
		{pattern: root + ":ENABle",
			set: func(c *call) *scpiError {
				v, err := c.number(0, "", 0, 32767, 0)
				if err == nil {
					at(c).enable = uint16(v)
				}
				return err
			},
			get: func(c *call) (string, *scpiError) { return number(at(c).enable) }},
	}
}
