package frames

import (
	"steadyrail/capture"
)

// lamp is a place in the frame: byte from 1 on, and a bit.
type lamp struct {
	byte int
	bit  byte
}

// The lamps around the digits. From memory of the data sheet, see [Segments].
// Bits 2 and 1 of the first byte say that the range is automatic and that the
// sending is on, bit 1 of the eleventh that the sounder is: of no consequence.
var (
	lampAC    = lamp{1, 8}
	lampDC    = lamp{1, 4}
	lampMinus = lamp{2, 8}
	lampPoint = [3]lamp{{4, 8}, {6, 8}, {8, 8}} // in front of the second, third, fourth digit
	lampMicro = lamp{10, 8}
	lampNano  = lamp{10, 4}
	lampKilo  = lamp{10, 2}
	lampDiode = lamp{10, 1}
	lampMilli = lamp{11, 8}
	lampRatio = lamp{11, 4} // %
	lampMega  = lamp{11, 2}
	lampFarad = lamp{12, 8}
	lampOhm   = lamp{12, 4}
	lampDelta = lamp{12, 2} // relative
	lampHold  = lamp{12, 1}
	lampAmp   = lamp{13, 8}
	lampVolt  = lamp{13, 4}
	lampHertz = lamp{13, 2}
	lampEmpty = lamp{13, 1} // low battery
)

// figures maps the seven segments of a digit to what they show. The upper byte
// of the pair gives bits 4 to 6, the lower bits 0 to 3.
var figures = map[byte]byte{
	0x7d: '0', 0x05: '1', 0x5b: '2', 0x1f: '3', 0x27: '4', 0x3e: '5', 0x7e: '6', 0x15: '7', 0x7f: '8', 0x3f: '9',
	0x68: 'L', 0x00: ' ',
}

// unitLamp is a unit and what may stand in front of it.
type unitLamp struct {
	lamp     lamp
	alternat capture.Quantity // with AC; NoQuantity: AC and DC say nothing
	direct   capture.Quantity
	prefixes string // letters of prefixLamps; space: none
	power    int    // of ten, of the unit itself
}

var unitLamps = []unitLamp{
	{lampVolt, capture.ACVoltage, capture.DCVoltage, " m", 0},
	{lampAmp, capture.ACCurrent, capture.DCCurrent, " mu", 0},
	{lampOhm, 0, capture.Resistance, " kM", 0},
	{lampFarad, 0, capture.Capacitance, "num", 0},
	{lampHertz, 0, capture.Frequency, " kM", 0},
	{lampRatio, 0, capture.Ratio, " ", -2},
}

var prefixLamps = []struct {
	lamp   lamp
	letter byte
	power  int
}{{lampNano, 'n', -9}, {lampMicro, 'u', -6}, {lampMilli, 'm', -3}, {lampKilo, 'k', 3}, {lampMega, 'M', 6}}

func lit(frame []byte, l lamp) bool { return frame[l.byte-1]&l.bit != 0 }
