package modbus

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/drivers/wire"
)

// seven asks unit 7 for two registers from 16 on; its answer is answered.
var (
	seven    = envelope{unit: 7, transaction: 9, request: read(Holding, 16, 2)}
	answered = []byte{readHolding, 4, 0x12, 0x34, 0x56, 0x78}
)

func join(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

// TestFindingAnAnswer on a serial line: whatever lies before it.
func TestFindingAnAnswer(t *testing.T) {
	good := wrapRTU(7, answered)
	damaged := bytes.Clone(good)
	damaged[4] ^= 0x10
	other := wrapRTU(3, answered)
	for _, c := range []struct {
		name         string
		received     []byte
		skip, length int
	}{
		{"nothing", nil, 0, 0},
		{"half", good[:5], 0, 0},
		{"whole", good, 0, len(good)},
		{"noise before", join([]byte{0, 0xFF, 7}, good), 3, len(good)},
		{"noise that begins like an answer", join([]byte{7, 3, 200}, good), 3, len(good)},
		{"an echo before", join(seven.frame(), good), 8, len(good)},
		{"an echo alone", seven.frame(), 0, 0},
		{"another unit's answer before", join(other, good), len(other), len(good)},
		{"another unit's answer alone", other, 0, 0},
		{"damaged", damaged, 0, len(damaged)},
		{"damaged, then half of a good one", join(damaged, good[:6]), 0, len(damaged)},
		{"an exception", wrapRTU(7, []byte{readHolding | failed, 6}), 0, 5},
		{"noise before an exception", join([]byte{0x55}, wrapRTU(7, []byte{readHolding | failed, 6})), 1, 5},
		{"a wrong byte count, sound", wrapRTU(7, []byte{readHolding, 2, 1, 2}), 0, 7},
		{"another function, sound", wrapRTU(7, []byte{readInput, 4, 1, 2, 3, 4}), 0, 9},
	} {
		if skip, n := seven.split()(c.received); skip != c.skip || n != c.length {
			t.Errorf("%s: got %d, %d, want %d, %d", c.name, skip, n, c.skip, c.length)
		}
	}
	// An echo whose address looks like a byte count.
	e := envelope{unit: 7, request: read(Holding, 0x0300, 2)}
	if skip, n := e.split()(join(e.frame(), good)); skip != 8 || n != len(good) {
		t.Errorf("echo of register 768: %d, %d", skip, n)
	}
}

func TestFindingAnAnswerOnTCP(t *testing.T) {
	e := seven
	e.framing = TCP
	good := wrapTCP(9, 7, answered)
	late := wrapTCP(8, 7, answered)
	for _, c := range []struct {
		name         string
		received     []byte
		skip, length int
	}{
		{"half a header", good[:4], 0, 0},
		{"half", good[:9], 0, 0},
		{"whole", good, 0, len(good)},
		{"a late one before", join(late, good), len(late), len(good)},
		{"two late ones, and half", join(late, late, good[:8]), 2 * len(late), 0},
		{"text", []byte("HTTP/1.1 400 Bad Request\r\n"), 0, 26},
	} {
		if skip, n := e.split()(c.received); skip != c.skip || n != c.length {
			t.Errorf("%s: got %d, %d, want %d, %d", c.name, skip, n, c.skip, c.length)
		}
	}
}

func TestWrongAnswers(t *testing.T) {
	damaged := wrapRTU(7, answered)
	damaged[5] ^= 1
	for _, c := range []struct {
		name    string
		framing Framing
		frame   []byte
		err     error
		says    string
	}{
		{"check sum", RTU, damaged, wire.ErrGarbled, "check sum is wrong"},
		{"unit", RTU, wrapRTU(3, answered), ErrMalformed, "an answer of unit 7"},
		{"function", RTU, wrapRTU(7, []byte{readInput, 4, 1, 2, 3, 4}), ErrMalformed, "function 3"},
		{"byte count", RTU, wrapRTU(7, []byte{readHolding, 2, 1, 2}), ErrMalformed, "begin with 03 04"},
		{"too short", RTU, []byte{7, 3}, ErrMalformed, "4 to 256"},
		{"busy", RTU, wrapRTU(7, []byte{readHolding | failed, 6}), ErrRefused, "exception 6, server device busy"},
		{"unknown exception", RTU, wrapRTU(7, []byte{readHolding | failed, 77}), ErrRefused, "exception 77"},
		{"transaction", TCP, wrapTCP(8, 7, answered), ErrMalformed, "transaction 9"},
		{"protocol", TCP, []byte{0, 9, 0, 1, 0, 3, 7, 3, 4}, ErrMalformed, "another protocol"},
		{"length", TCP, append(wrapTCP(9, 7, answered), 0), ErrMalformed, "another protocol"},
		{"unit on tcp", TCP, wrapTCP(9, 3, answered), ErrMalformed, "an answer of unit 7"},
		{"byte count on tcp", TCP, wrapTCP(9, 7, []byte{readHolding, 2, 1, 2}), ErrMalformed, "begin with 03 04"},
		{"silent behind a gateway", TCP, wrapTCP(9, 7, []byte{readHolding | failed, 11}), wire.ErrTimeout, "behind the gateway"},
	} {
		e := seven
		e.framing = c.framing
		if data, err := e.open(c.frame); !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: % x, %v", c.name, data, err)
		}
	}
}

// TestNoiseNeverBecomesAValue: whatever noise lies before and however the answer
// arrives in pieces, what is opened is the answer or an error.
func TestNoiseNeverBecomesAValue(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		e := seven
		e.unit = rapid.Byte().Draw(rt, "unit")
		e.framing = Framing(rapid.IntRange(0, 1).Draw(rt, "framing"))
		noise := rapid.SliceOfN(rapid.Byte(), 0, 12).Draw(rt, "noise")
		frame := wrapRTU(e.unit, answered)
		if e.framing == TCP {
			noise, frame = nil, wrapTCP(e.transaction, e.unit, answered)
		}
		all, from := join(noise, frame), 0
		for end := range len(all) + 1 {
			skip, n := e.split()(all[from:end])
			from += skip
			if n == 0 {
				continue
			}
			data, err := e.open(all[from : from+n])
			if err == nil && !bytes.Equal(data, answered[2:]) {
				rt.Fatalf("% x became % x", all, data)
			}
			return
		}
		rt.Fatalf("% x: the answer was not found", all)
	})
}

func fuzzSplit(f *testing.F, framing Framing) {
	frames, sums := publishedFrames(f)
	for i := range frames {
		f.Add(byte(17), uint16(107), byte(3), append(bytes.Clone(frames[i]), sums[i]...))
	}
	f.Add(byte(7), uint16(16), byte(2), wrapTCP(9, 7, answered))
	f.Fuzz(func(t *testing.T, unit byte, from uint16, count byte, received []byte) {
		e := envelope{framing: framing, unit: unit, transaction: 9, request: read(Holding, int(from), max(1, int(count)%MostRead))}
		skip, n := e.split()(received)
		if skip < 0 || n < 0 || skip+n > len(received) {
			t.Fatalf("%d, %d of %d bytes", skip, n, len(received))
		}
		if n == 0 {
			return
		}
		data, err := e.open(received[skip : skip+n])
		if err == nil && len(data) != 2*max(1, int(count)%MostRead) {
			t.Fatalf("% x", data)
		}
		if err != nil && err.Error() == "" {
			t.Fatal("an error without words")
		}
	})
}

func FuzzRTU(f *testing.F) { fuzzSplit(f, RTU) }
func FuzzTCP(f *testing.F) { fuzzSplit(f, TCP) }
