package frames

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// letters are the segments of each digit by the usual letters (a on top, then
// clockwise, g in the middle): what any display of seven segments shows. The
// frames of these tests are drawn from them, not from the driver's table.
var letters = map[byte]string{
	'0': "abcdef", '1': "bc", '2': "abdeg", '3': "abcdg", '4': "bcfg", '5': "acdfg", '6': "acdefg", '7': "abc",
	'8': "abcdefg", '9': "abcdfg", 'L': "def", ' ': "",
}

// places says in which of a digit's two nibbles a segment lies: the lamp layout
// of the data sheet, from memory.
var places = map[rune][2]byte{'a': {1, 0}, 'f': {2, 0}, 'e': {4, 0}, 'b': {0, 1}, 'g': {0, 2}, 'c': {0, 4}, 'd': {0, 8}}

// draw makes a frame of a text such as "-12.34" and names of lamps.
func draw(text string, lamps ...lamp) []byte {
	f := make([]byte, FrameLength)
	for i := range f {
		f[i] = byte(i+1) << 4
	}
	if rest, ok := strings.CutPrefix(text, "-"); ok {
		text, f[1] = rest, f[1]|8
	}
	at := 0
	for i := range len(text) {
		if text[i] == '.' {
			f[1+2*at] |= 8
			continue
		}
		for _, s := range letters[text[i]] {
			f[1+2*at] |= places[s][0]
			f[2+2*at] |= places[s][1]
		}
		at++
	}
	for _, l := range lamps {
		f[l.byte-1] |= l.bit
	}
	return f
}

var celsius = &Segments{Celsius: 2, Held: 1}

func TestSegmentDisplays(t *testing.T) {
	deg := lamp{14, 2}
	for _, c := range []struct {
		name  string
		frame []byte
		want  Display
	}{
		{"volts", draw("5.012", lampDC, lampVolt), Display{capture.DCVoltage, 5.012, 0.001, "5.012", 0}},
		{"minus", draw("-12.04", lampDC, lampVolt), Display{capture.DCVoltage, -12.04, 0.01, "-12.04", 0}},
		{"millivolts", draw("123.4", lampDC, lampVolt, lampMilli), Display{capture.DCVoltage, 0.1234, 0.0001, "123.4E-03", 0}},
		{"no point", draw("0230", lampAC, lampVolt), Display{capture.ACVoltage, 230, 1, "0230", 0}},
		{"first place blank", draw(" 1.50", lampAC, lampVolt), Display{capture.ACVoltage, 1.5, 0.01, "1.50", 0}},
		{"microamperes", draw("004.2", lampDC, lampAmp, lampMicro), Display{capture.DCCurrent, 4.2e-6, 1e-7, "004.2E-06", 0}},
		{"AC milliamperes", draw("10.00", lampAC, lampAmp, lampMilli), Display{capture.ACCurrent, 0.01, 1e-5, "10.00E-03", 0}},
		{"ohms", draw("000.8", lampOhm), Display{capture.Resistance, 0.8, 0.1, "000.8", 0}},
		{"megohms", draw("1.234", lampOhm, lampMega), Display{capture.Resistance, 1.234e6, 1000, "1.234E+06", 0}},
		{"open", draw(" 0.L ", lampOhm, lampMega), Display{Quantity: capture.Resistance, Flags: capture.OverRange}},
		{"over", draw(" 0L ", lampDC, lampVolt), Display{Quantity: capture.DCVoltage, Flags: capture.OverRange}},
		{"under", draw("- 0L ", lampDC, lampVolt), Display{Quantity: capture.DCVoltage, Flags: capture.UnderRange}},
		{"diode", draw("0.562", lampDiode, lampVolt), Display{capture.DiodeDrop, 0.562, 0.001, "0.562", 0}},
		{"farads", draw("47.03", lampFarad, lampNano), Display{capture.Capacitance, 47.03e-9, 1e-11, "47.03E-09", 0}},
		{"hertz", draw("50.00", lampHertz), Display{capture.Frequency, 50, 0.01, "50.00", 0}},
		{"per cent", draw("050.0", lampRatio), Display{capture.Ratio, 0.5, 0.001, "050.0E-02", 0}},
		{"celsius", draw("0023", deg), Display{capture.Temperature, 23, 1, "0023", 0}},
		{"hold", draw("5.012", lampDC, lampVolt, lampHold), Display{capture.DCVoltage, 5.012, 0.001, "5.012", capture.Held}},
		{"peak", draw("5.012", lampDC, lampVolt, lamp{14, 1}), Display{capture.DCVoltage, 5.012, 0.001, "5.012", capture.Held}},
		{"low battery", draw("5.012", lampDC, lampVolt, lampEmpty), Display{capture.DCVoltage, 5.012, 0.001, "5.012", capture.LowBattery}},
		{"leads taken off", draw("-000.1", lampOhm, lampDelta), Display{capture.Resistance, -0.1, 0.1, "-000.1", 0}},
		{"automatic, sending, sounding", draw("000.1", lampOhm, lamp{1, 3}, lamp{11, 1}), Display{capture.Resistance, 0.1, 0.1, "000.1", 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := celsius.read(c.frame)
			if err != nil || got.Text != c.want.Text || got.Quantity != c.want.Quantity || got.Flags != c.want.Flags ||
				math.Abs(got.Value-c.want.Value) > 1e-12*math.Abs(c.want.Value) || math.Abs(got.Resolution-c.want.Resolution) > 1e-9*c.want.Resolution {
				t.Fatalf("got %+v, %v\nwant %+v", got, err, c.want)
			}
		})
	}
}

func TestSegmentRefusals(t *testing.T) {
	broken := draw("5.012", lampDC, lampVolt)
	broken[2] &^= 8
	for _, c := range []struct {
		name  string
		frame []byte
		want  error
		says  string
	}{
		{"no digit", broken, ErrMalformed, "are no figure"},
		{"two points", draw("5.0.12", lampDC, lampVolt), ErrMalformed, "two points"},
		{"two units", draw("5.012", lampDC, lampVolt, lampAmp), ErrMalformed, "two units"},
		{"degrees and volts", draw("5.012", lampDC, lampVolt, lamp{14, 2}), ErrMalformed, "two units"},
		{"two prefixes", draw("5.012", lampOhm, lampMega, lampKilo), ErrMalformed, "two prefixes"},
		{"no such prefix", draw("5.012", lampDC, lampVolt, lampKilo), ErrMalformed, "does not belong"},
		{"neither AC nor DC", draw("5.012", lampVolt), ErrMalformed, "no unit"},
		{"AC and DC", draw("5.012", lampVolt, lampAC, lampDC), ErrMalformed, "no unit"},
		{"prefix alone", draw("5.012", lampMilli), ErrMalformed, "no unit"},
		{"unknown lamp", draw("5.012", lampDC, lampVolt, lamp{14, 8}), ErrMalformed, "does not say what it means"},
		{"blank in the middle", draw("5. 12", lampDC, lampVolt), ErrMalformed, "no figure"},
		{"blank behind", draw("5.01 ", lampDC, lampVolt), ErrMalformed, "blank"},
		{"L in the middle", draw("5L12", lampDC, lampVolt), ErrMalformed, "no figure"},
		{"negative ohms", draw("-000.1", lampOhm), ErrMalformed, "below nothing"},
		{"point before the figures", draw(" .123", lampDC, lampVolt), ErrMalformed, "in front of its figures"},
		{"blank", draw("    ", lampDC, lampVolt), ErrRefused, "blank"},
		{"no unit", draw("5.012"), ErrRefused, "no unit"},
		{"a difference", draw("0.012", lampDC, lampVolt, lampDelta), ErrRefused, "relative"},
		{"short", draw("5.012")[:13], ErrMalformed, "14 bytes"},
	} {
		if got, err := celsius.read(c.frame); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) || got != (Display{}) {
			t.Errorf("%s: %+v, %v; want %v, saying %q", c.name, got, err, c.want, c.says)
		}
	}
}

// TestEverySegmentPattern: each of the 128 patterns in each of the four places.
// The ten figures are read as themselves, everything else is refused.
func TestEverySegmentPattern(t *testing.T) {
	drawn := map[[2]byte]byte{}
	for c, list := range letters {
		var p [2]byte
		for _, s := range list {
			p[0] |= places[s][0]
			p[1] |= places[s][1]
		}
		drawn[p] = c
	}
	for place := range 4 {
		for pattern := range byte(128) {
			frame := draw("8888", lampOhm)
			frame[1+2*place] = frame[1+2*place]&^7 | pattern>>4
			frame[2+2*place] = frame[2+2*place]&^15 | pattern&15
			got, err := celsius.read(frame)
			want := []byte("8888")
			c, ok := drawn[[2]byte{pattern >> 4, pattern & 15}]
			want[place] = c
			ok = ok && (c >= '0' && c <= '9' || c == ' ' && place == 0)
			if ok != (err == nil) || ok && got.Text != strings.TrimSpace(string(want)) {
				t.Errorf("place %d pattern %#02x: %+v, %v; want %q", place, pattern, got, err, want)
			}
		}
	}
}

// TestEveryFigure: every figure from 0000 to 9999 with every point.
func TestEveryFigure(t *testing.T) {
	for n := range 10000 {
		for point := range 4 {
			text := fmt.Sprintf("%04d", n)
			if point > 0 {
				text = text[:point] + "." + text[point:]
			}
			got, err := celsius.read(draw(text, lampDC, lampVolt))
			if err != nil || got.Text != text {
				t.Fatalf("%q: %+v, %v", text, got, err)
			}
		}
	}
}

// TestSingleWrongBits counts what the doc comment of Segments says of wrong bits
// that cannot be seen, over every bit of many frames.
func TestSingleWrongBits(t *testing.T) {
	units := [][]lamp{
		{lampDC, lampVolt}, {lampDC, lampVolt, lampMilli}, {lampAC, lampVolt}, {lampDC, lampAmp}, {lampDC, lampAmp, lampMicro},
		{lampOhm}, {lampOhm, lampKilo}, {lampOhm, lampMega}, {lampFarad, lampNano}, {lampHertz},
	}
	bits, wrong, index := 0, 0, 0
	for n := 0; n < 10000; n += 61 {
		for point := range 4 {
			for _, lamps := range units {
				text := fmt.Sprintf("%04d", n)
				if point > 0 {
					text = text[:point] + "." + text[point:]
				}
				frame := draw(text, lamps...)
				right, err := celsius.read(frame)
				if err != nil {
					t.Fatal(err)
				}
				for bit := range 8 * FrameLength {
					frame[bit/8] ^= 1 << (bit % 8)
					got, err := celsius.read(frame)
					bits++
					if err == nil && got.Text == right.Text {
						got.Flags = right.Flags // a lamp more may take the verdict away
					}
					if err == nil && got != right && got.Quantity == right.Quantity && !got.Flags.Has(capture.NoVerdict) {
						wrong++
						if bit%8 >= 4 {
							index++
						}
					}
					frame[bit/8] ^= 1 << (bit % 8)
				}
			}
		}
	}
	rate := float64(wrong) / float64(bits)
	t.Logf("%d of %d single wrong bits give another legal display: %.2f %%", wrong, bits, 100*rate)
	if index != 0 {
		t.Errorf("%d wrong bits of an index were not seen", index)
	}
	if math.Abs(rate-toldRate) > 0.0005 {
		t.Errorf("the doc comment of Segments says %.3f, counted are %.4f", toldRate, rate)
	}
}

// toldRate is what the doc comment of Segments says.
const toldRate = 0.077

// TestWrongBits: however many bits of a frame are wrong, what is read is what the
// frame draws, figure by figure. Nothing is read out of a pattern that is none.
func TestWrongBits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 9999).Draw(t, "figure")
		frame := draw(fmt.Sprintf("%04d", n), lampDC, lampVolt)
		for _, bit := range rapid.SliceOfN(rapid.IntRange(0, 8*FrameLength-1), 1, 8).Draw(t, "bits") {
			frame[bit/8] ^= 1 << (bit % 8)
		}
		got, err := celsius.read(frame)
		if err != nil || !got.Flags.Has(capture.NoValue) && got.Text == "" {
			if err == nil {
				t.Fatalf("% x: %+v", frame, got)
			}
			return
		}
		text, _, _ := strings.Cut(got.Text, "E")
		text = strings.TrimPrefix(strings.ReplaceAll(text, ".", ""), "-")
		if got.Flags.Has(capture.NoValue) {
			return
		}
		again := draw(fmt.Sprintf("%4s", text))
		for i := range again[:9] {
			if mask := byte(0xf7); i > 0 && frame[i]&mask != again[i]&mask && i%2 == 1 || i > 0 && i%2 == 0 && frame[i] != again[i] {
				t.Fatalf("% x is read as %+v, which is % x", frame, got, again)
			}
		}
	})
}

// TestDamagedStream: behind noise of any kind, the front of a frame among it, the
// next whole frame is found and read as it was.
func TestDamagedStream(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1000, 9999).Draw(t, "figure")
		frame := draw(fmt.Sprintf("%d.%03d", n/1000, n%1000), lampDC, lampVolt)
		noise := rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "noise")
		stream := append(append([]byte(nil), noise...), frame...)
		skip, length := celsius.next(stream)
		for length == 0 && skip < len(stream) { // the noise may be the front of a frame
			stream = append(stream, frame...)
			if skip, length = celsius.next(stream); length == 0 {
				t.Fatalf("noise % x and two frames: nothing is found", noise)
			}
		}
		got, err := celsius.read(stream[skip : skip+length])
		ownEnd := skip+length > len(noise)+FrameLength || skip == len(noise)
		if ownEnd && (err != nil || got.Value != float64(n)/1000) {
			t.Fatalf("noise % x: %+v, %v; want %d", noise, got, err, n)
		}
	})
}

// TestCutAndDoubled: no byte can be missing, doubled or from another frame
// without being seen.
func TestCutAndDoubled(t *testing.T) {
	a, b := draw("1.234", lampDC, lampVolt), draw("9.876", lampDC, lampVolt)
	for i := range FrameLength {
		for _, damaged := range [][]byte{
			append(append([]byte(nil), a[:i]...), a[i+1:]...),
			append(append([]byte(nil), a[:i+1]...), a[i:]...),
			a[:i],
			a[i+1:],
		} {
			stream := append(append([]byte(nil), damaged...), b...)
			skip, length := celsius.next(stream)
			if length != FrameLength || skip != len(damaged) {
				// A doubled last byte or a cut first one leaves a itself whole.
				if got, err := celsius.read(stream[skip : skip+length]); err != nil || got.Value != 1.234 {
					t.Fatalf("byte %d: % x: skip %d, length %d, %+v, %v", i, stream, skip, length, got, err)
				}
			}
		}
	}
}

func FuzzSegments(f *testing.F) {
	f.Add(draw("5.012", lampDC, lampVolt))
	f.Add(append([]byte{0x10, 0x21}, draw("-0L", lampOhm, lampMega, lampHold)...))
	f.Fuzz(func(t *testing.T, in []byte) {
		skip, length := celsius.next(in)
		if skip < 0 || skip > len(in) || length != 0 && (length != FrameLength || skip+length > len(in)) {
			t.Fatalf("skip %d, length %d of %d", skip, length, len(in))
		}
		if length == 0 {
			return
		}
		d, err := celsius.read(in[skip : skip+length])
		if err != nil {
			if !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrRefused) {
				t.Fatal(err)
			}
			return
		}
		sane(t, d)
	})
}

// sane holds of every display that is handed out.
func sane(t *testing.T, d Display) {
	t.Helper()
	if d.Quantity == capture.NoQuantity {
		t.Fatalf("%+v: no quantity", d)
	}
	if d.Flags.Has(capture.NoValue) {
		if d.Text != "" || d.Value != 0 {
			t.Fatalf("%+v: a value beside a flag that takes it away", d)
		}
		return
	}
	v, resolution, flags, err := capture.ParseResponse(d.Text)
	if err != nil || v != d.Value || resolution != d.Resolution || flags != 0 {
		t.Fatalf("%+v: the text says %v, %v, %v, %v", d, v, resolution, flags, err)
	}
}
