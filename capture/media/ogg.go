package media

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
)

// An Ogg stream is a row of pages (RFC 3533, 6): "OggS", version, flags, the granule
// position (8 bytes), serial number (4), number of the page (4), checksum (4), a count
// and so many lacing values of the segments that follow. A packet is segments up to
// one below 255.

const (
	oggHead     = 27 // bytes in front of the lacing values
	oggSeal     = 22 // where the checksum stands
	oggContinue = 1  // flag: the page begins inside a packet
	oggFirst    = 2  // flag: the first page of a stream
)

// oggPage is one page. raw is all of it.
type oggPage struct {
	raw    []byte
	lacing []byte
	body   []byte
}

func (p oggPage) flags() byte    { return p.raw[5] }
func (p oggPage) number() uint32 { return binary.LittleEndian.Uint32(p.raw[18:]) }
func (p oggPage) serial() uint32 { return binary.LittleEndian.Uint32(p.raw[14:]) }

// oggPages reads pages until the data end.
func oggPages(data []byte) (out []oggPage, err error) {
	for len(data) > 0 {
		p, rest, err := oggPageOf(data)
		if err != nil {
			return nil, err
		}
		out, data = append(out, p), rest
	}
	return out, nil
}

func oggPageOf(data []byte) (oggPage, []byte, error) {
	if len(data) < oggHead || string(data[:4]) != "OggS" || data[4] != 0 {
		return oggPage{}, nil, errShort
	}
	head := oggHead + int(data[26])
	if len(data) < head {
		return oggPage{}, nil, errShort
	}
	size := head
	for _, n := range data[oggHead:head] {
		size += int(n)
	}
	if len(data) < size {
		return oggPage{}, nil, errShort
	}
	if page := data[:size]; sealed(page) != binary.LittleEndian.Uint32(page[oggSeal:]) {
		return oggPage{}, nil, errors.New("a page of it is damaged: send it again")
	}
	return oggPage{data[:size], data[oggHead:head], data[head:size]}, data[size:], nil
}

// oggTable is the table of the checksum: polynomial 0x04c11db7, not reflected, begun
// with 0, nothing inverted at the end (RFC 3533, 6, field 7).
var oggTable = func() (t [256]uint32) {
	for i := range t {
		r := uint32(i) << 24
		for range 8 {
			top := r&(1<<31) != 0
			r <<= 1
			if top {
				r ^= 0x04c11db7
			}
		}
		t[i] = r
	}
	return t
}()

// sealed returns the checksum of a page, whose own field counts as zero.
func sealed(page []byte) (sum uint32) {
	for i, b := range page {
		if i >= oggSeal && i < oggSeal+4 {
			b = 0
		}
		sum = sum<<8 ^ oggTable[byte(sum>>24)^b]
	}
	return sum
}

// oggCodec is how a codec begins its first packet and the one that holds comments.
type oggCodec struct {
	head, comment string
	framed        bool // a bit behind the comments says that they are whole (Vorbis I, 5.2.1)
}

// oggCodecs are those whose comments are known: RFC 7845, 5.2; Vorbis I, 4.2.1 and 5;
// Speex's second packet is the comments alone.
var oggCodecs = []oggCodec{
	{"OpusHead", "OpusTags", false},
	{"\x01vorbis", "\x03vorbis", true},
	{"Speex   ", "", false},
}

// empty is a comment header that says nothing: a vendor without a name, no comments.
func (c oggCodec) empty() []byte {
	out := append([]byte(c.comment), make([]byte, 8)...)
	if c.framed {
		out = append(out, 1)
	}
	return out
}

// cleanOgg takes the comments out of a stream of one sound: the second packet is made
// anew, its page with it, and the pages are sealed again.
func cleanOgg(data []byte) ([]byte, error) {
	pages, err := oggPages(data)
	if err != nil || len(pages) == 0 {
		return nil, malformed(cmp.Or(err, errShort))
	}
	for i, p := range pages {
		if i > 0 && (p.flags()&oggFirst != 0 || p.serial() != pages[0].serial()) {
			return nil, malformed(errors.New("it holds more than one stream: send the sound alone"))
		}
	}
	for _, c := range oggCodecs {
		if bytes.HasPrefix(pages[0].body, []byte(c.head)) {
			return c.clean(pages)
		}
	}
	return nil, malformed(errors.New("the stream holds no sound of a kind whose descriptions are known: Opus, Vorbis or Speex"))
}

// clean puts an empty header in the place of the comments.
func (c oggCodec) clean(pages []oggPage) ([]byte, error) {
	if len(pages) < 2 || pages[1].flags()&oggContinue != 0 {
		return nil, malformed(errShort)
	}
	text, rest, next, err := secondPacket(pages)
	if err != nil {
		return nil, malformed(err)
	}
	if !bytes.HasPrefix(text, []byte(c.comment)) {
		return nil, malformed(errors.New("its second packet is not that of comments"))
	}
	packet := c.empty()
	lacing := append([]byte{byte(len(packet))}, rest.lacing...) // one for one or more: no page gets too long
	out := append([]byte{}, pages[0].raw...)
	last := pages[next-1] // on which they end: its granule position is that of what stands behind them
	head := append([]byte{}, last.raw[:oggHead]...)
	head[5] &^= oggContinue
	head[26] = byte(len(lacing))
	gone := uint32(next - 2) // pages less than before
	out = appendPage(out, head, last.number()-gone, lacing, append(packet, rest.body...))
	for _, p := range pages[next:] {
		out = appendPage(out, p.raw[:oggHead], p.number()-gone, p.lacing, p.body)
	}
	return out, nil
}

// appendPage writes a page with its number and its seal.
func appendPage(out, head []byte, number uint32, lacing, body []byte) []byte {
	at := len(out)
	out = append(append(append(out, head...), lacing...), body...)
	page := out[at:]
	binary.LittleEndian.PutUint32(page[18:], number)
	binary.LittleEndian.PutUint32(page[oggSeal:], sealed(page))
	return out
}

// secondPacket gathers the packet that begins the second page, over as many pages as
// it takes. rest is what stands behind it on its last page, next the page after that.
func secondPacket(pages []oggPage) (packet []byte, rest oggPage, next int, err error) {
	for i, p := range pages[1:] {
		if i > 0 && p.flags()&oggContinue == 0 {
			return nil, rest, 0, errShort
		}
		at := 0
		for k, n := range p.lacing {
			packet = append(packet, p.body[at:at+int(n)]...)
			at += int(n)
			if n < 255 {
				return packet, oggPage{lacing: p.lacing[k+1:], body: p.body[at:]}, i + 2, nil
			}
		}
	}
	return nil, rest, 0, errShort
}
