package pedal

import (
	"bytes"
	"encoding/binary"
	"errors"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// bytesOf writes an event as the kernel does.
func bytesOf(word int, e Event) []byte {
	o := binary.NativeEndian
	s, us := int64(e.At/time.Second), int64(e.At%time.Second/time.Microsecond)
	var b []byte
	if word == 4 {
		b = o.AppendUint32(o.AppendUint32(b, uint32(int32(s))), uint32(int32(us)))
	} else {
		b = o.AppendUint64(o.AppendUint64(b, uint64(s)), uint64(us))
	}
	b = o.AppendUint16(o.AppendUint16(b, e.Type), e.Code)
	return o.AppendUint32(b, uint32(e.Value))
}

// What goes in comes out, in whatever pieces it arrives.
func TestPiecesMakeNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.SampledFrom([]int{4, 8}).Draw(t, "word")
		var want []Event
		var stream []byte
		for range rapid.IntRange(0, 20).Draw(t, "events") {
			e := Event{time.Duration(rapid.Int64Range(0, 1<<30).Draw(t, "us")) * time.Microsecond, rapid.Uint16().Draw(t, "type"), rapid.Uint16().Draw(t, "code"), rapid.Int32().Draw(t, "value")}
			want = append(want, e)
			stream = append(stream, bytesOf(word, e)...)
		}
		d := Decoder{Word: word}
		var got []Event
		for len(stream) > 0 {
			n := rapid.IntRange(1, len(stream)).Draw(t, "piece")
			got = append(got, d.Feed(stream[:n])...)
			stream = stream[n:]
		}
		if d.Close() != nil || len(got) != len(want) {
			t.Fatalf("%d of %d, %v", len(got), len(want), d.Close())
		}
		for i := range got {
			if got[i] != want[i] {
				t.Fatalf("%+v, want %+v", got[i], want[i])
			}
		}
	})
}

// A record by hand, little endian, 64 bits: 1 s 500 ms, EV_KEY, KEY_A (30), down.
func TestRecordByHand(t *testing.T) {
	if binary.NativeEndian.Uint16([]byte{1, 0}) != 1 {
		t.Skip("SKIPPED: the record by hand is little endian, this machine is not")
	}
	b := []byte{1, 0, 0, 0, 0, 0, 0, 0, 0x20, 0xa1, 0x07, 0, 0, 0, 0, 0, 1, 0, 30, 0, 1, 0, 0, 0}
	d := Decoder{Word: 8}
	got := d.Feed(b)
	if len(got) != 1 || got[0] != (Event{1500 * time.Millisecond, 1, 30, 1}) {
		t.Errorf("%+v", got)
	}
	d = Decoder{Word: 4}
	got = d.Feed(append([]byte{1, 0, 0, 0, 0x20, 0xa1, 0x07, 0}, b[16:]...))
	if len(got) != 1 || got[0] != (Event{1500 * time.Millisecond, 1, 30, 1}) {
		t.Errorf("32 bits: %+v", got)
	}
	d.Feed([]byte{1})
	if !errors.Is(d.Close(), ErrShort) {
		t.Errorf("cut off: %v", d.Close())
	}
}

func TestPresses(t *testing.T) {
	const a, b = 30, 48
	at := func(ms int) time.Duration { return time.Duration(ms) * time.Millisecond }
	for _, c := range []struct {
		name   string
		events []Event
		want   []Press
	}{
		{"short", []Event{{at(0), 1, a, 1}, {at(0), 0, 0, 0}, {at(120), 1, a, 0}}, []Press{{}}},
		{"long, repeating", []Event{{at(0), 1, a, 1}, {at(250), 1, a, 2}, {at(280), 1, a, 2}, {at(700), 1, a, 0}}, []Press{{Long: true}}},
		{"just long", []Event{{at(0), 1, a, 1}, {at(600), 1, a, 0}}, []Press{{Long: true}}},
		{"up alone: it was down before it was grabbed", []Event{{at(0), 1, a, 0}}, nil},
		{"two keys", []Event{{at(0), 1, a, 1}, {at(50), 1, b, 1}, {at(90), 1, b, 0}, {at(800), 1, a, 0}}, []Press{{}, {Long: true}}},
		{"overflow: what was held nobody knows", []Event{{at(0), 1, a, 1}, {at(10), 0, 3, 0}, {at(900), 1, a, 0}}, nil},
		{"a mouse", []Event{{at(0), 2, 0, 5}, {at(1), 0, 0, 0}}, nil},
	} {
		var p Presses
		var got []Press
		for _, e := range c.events {
			if one, ends := p.Take(e); ends {
				got = append(got, one)
			}
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
			}
		}
	}
}

// No bytes crash it, none are lost, and what comes out is what went in.
func FuzzDecoder(f *testing.F) {
	f.Add([]byte{}, true)
	f.Add(bytes.Repeat([]byte{0xff}, 49), false)
	f.Add(bytesOf(8, Event{time.Second, 1, 30, 1}), true)
	f.Fuzz(func(t *testing.T, b []byte, wide bool) {
		d := Decoder{Word: 4}
		if wide {
			d.Word = 8
		}
		var p Presses
		n := 0
		for _, e := range d.Feed(b) {
			p.Take(e)
			n++
		}
		if n != len(b)/d.size() || (d.Close() == nil) != (len(b)%d.size() == 0) {
			t.Errorf("%d events of %d bytes, %v", n, len(b), d.Close())
		}
	})
}
