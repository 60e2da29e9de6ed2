package media

import (
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
)

var errFilm = errors.New("it holds moving pictures: send the sound alone, or a picture")

// oggHeads begin the first packet of the sounds that browsers play (RFC 7845, 5.1;
// Vorbis I, 4.2.1; the mapping of FLAC).
var oggHeads = []string{"OpusHead", "\x01vorbis", "\x7fFLAC", "Speex   "}

// checkOgg looks whether the stream holds sound.
func checkOgg(data []byte) ([]byte, error) {
	if len(data) < 28 || len(data) < 27+int(data[26]) {
		return nil, malformed(errShort)
	}
	packet := data[27+int(data[26]):]
	for _, head := range oggHeads {
		if bytes.HasPrefix(packet, []byte(head)) {
			return data, nil
		}
	}
	return nil, malformed(errors.New("the stream holds no sound that browsers play"))
}

// boxesWithin are the boxes in which others may describe (ISO/IEC 14496-12, 8).
const boxesWithin = "moov trak mdia minf stbl edts"

// cleanMP4 overwrites the boxes that describe (user data, metadata, those of
// others) and renames them free space: what stands behind keeps its place.
func cleanMP4(data []byte) ([]byte, error) { return cleaned(data, (*boxes).clean) }

// cleaned cleans a copy, and wants that what was found in it is sound alone.
func cleaned(data []byte, clean func(*boxes, []byte, int) error) ([]byte, error) {
	out := bytes.Clone(data)
	c := boxes{}
	if err := clean(&c, out, 0); err != nil {
		return nil, malformed(err)
	}
	switch {
	case c.film:
		return nil, malformed(errFilm)
	case !c.sound:
		return nil, malformed(errors.New("it holds no sound"))
	}
	return out, nil
}

type boxes struct{ sound, film bool }

func (c *boxes) clean(data []byte, depth int) error {
	for len(data) > 0 {
		head, n, err := boxLength(data)
		if err != nil {
			return err
		}
		name, body := string(data[4:8]), data[head:n]
		switch {
		case name == "udta", name == "meta", name == "uuid", name == "skip", name == "free":
			copy(data[4:8], "free")
			clear(body)
		case name == "hdlr" && len(body) >= 12:
			c.sound = c.sound || string(body[8:12]) == "soun"
			c.film = c.film || string(body[8:12]) == "vide"
		case strings.Contains(boxesWithin, name) && depth < 8:
			if err := c.clean(body, depth+1); err != nil {
				return err
			}
		}
		data = data[n:]
	}
	return nil
}

// boxLength returns where the body of a box begins, and where it ends.
func boxLength(data []byte) (head, n int, err error) {
	if len(data) < 8 {
		return 0, 0, errShort
	}
	head = 8
	size := uint64(binary.BigEndian.Uint32(data))
	switch {
	case size == 0: // up to the end
		size = uint64(len(data))
	case size == 1:
		if head = 16; len(data) < 16 {
			return 0, 0, errShort
		}
		size = binary.BigEndian.Uint64(data[8:])
	}
	if size < uint64(head) || size > uint64(len(data)) {
		return 0, 0, errShort
	}
	return head, int(size), nil
}

// Elements of WebM (RFC 9559, 5), and Void (RFC 8794, 11.3.2).
const (
	idSegment     = 0x18538067
	idCluster     = 0x1F43B675
	idTracks      = 0x1654AE6B
	idTrackEntry  = 0xAE
	idTrackType   = 0x83
	idTags        = 0x1254C367
	idAttachments = 0x1941A469
	idVoid        = 0xEC
)

// cleanWebM overwrites tags and attachments with nothing.
func cleanWebM(data []byte) ([]byte, error) { return cleaned(data, (*boxes).elements) }

func (c *boxes) elements(data []byte, depth int) error {
	for len(data) > 0 {
		id, head, size, err := element(data)
		if err != nil {
			return err
		}
		if size < 0 { // not known: its children follow, as do its neighbours
			if id != idSegment && id != idCluster {
				return errShort
			}
			data = data[head:]
			continue
		}
		if size > int64(len(data)-head) {
			size = int64(len(data) - head) // a recording that was cut off is a recording
		}
		body := data[head : head+int(size)]
		switch {
		case id == idTags, id == idAttachments:
			void(data[:head+int(size)])
		case (id == idSegment || id == idTracks || id == idTrackEntry) && depth < 4:
			if err := c.elements(body, depth+1); err != nil {
				return err
			}
		case id == idTrackType && len(body) > 0:
			kind := body[len(body)-1] // 1 video, 2 audio
			c.film, c.sound = c.film || kind == 1, c.sound || kind == 2
		}
		data = data[head+int(size):]
	}
	return nil
}

// element reads the identity and the length of an element; -1 when the length is
// not known.
func element(data []byte) (id uint32, head int, size int64, err error) {
	n := vintLength(data)
	if n == 0 || n > 4 || len(data) < n+1 {
		return 0, 0, 0, errShort
	}
	for _, b := range data[:n] {
		id = id<<8 | uint32(b)
	}
	m := vintLength(data[n:])
	if m == 0 || len(data) < n+m {
		return 0, 0, 0, errShort
	}
	size = int64(data[n]) & (1<<(8-m) - 1)
	all := size == 1<<(8-m)-1
	for _, b := range data[n+1 : n+m] {
		size, all = size<<8|int64(b), all && b == 0xff
	}
	if all {
		size = -1
	}
	return id, n + m, size, nil
}

// vintLength is how many bytes a number of EBML takes; 0: none that is allowed.
func vintLength(data []byte) int {
	if len(data) == 0 {
		return 0
	}
	for i := range 8 {
		if data[0]&(0x80>>i) != 0 {
			return i + 1
		}
	}
	return 0
}

// void makes an element of at least five bytes nothing, of the same length: one
// byte of identity, and a length in what its head had left.
func void(data []byte) {
	n := min(len(data)-1, 8)
	size := uint64(len(data) - 1 - n)
	clear(data)
	data[0] = idVoid
	for i := n; i >= 1; i-- {
		data[i], size = byte(size), size>>8
	}
	data[1] |= 0x80 >> (n - 1)
}
