package media

import (
	"bytes"
	"encoding/binary"
	"errors"
)

// Markers, ITU-T T.81 (09/92), table B.1.
const (
	markSOI   = 0xd8
	markEOI   = 0xd9
	markSOS   = 0xda
	markDQT   = 0xdb
	markDHT   = 0xc4
	markDRI   = 0xdd
	markSOF2  = 0xc2
	markApp0  = 0xe0
	markApp1  = 0xe1
	markApp14 = 0xee
	markApp15 = 0xef
	markCOM   = 0xfe
)

const exifMark = "Exif\x00\x00"

// adobe is what a decoder needs of the one application segment that says how
// colours are coded: 12 bytes (Adobe Technical Note 5116, 18).
const adobe = 12

// cleanJPEG keeps the segments of the image and what is to be kept of Exif.
func cleanJPEG(data []byte) ([]byte, Told, error) {
	var told Told
	var body []byte
	err := segments(data, func(mark byte, payload, scan []byte) error {
		switch {
		case mark == markApp1 && bytes.HasPrefix(payload, []byte(exifMark)):
			if told == (Told{}) {
				told = readExif(payload[len(exifMark):])
			}
		case mark == markApp14 && len(payload) >= adobe && string(payload[:5]) == "Adobe":
			body = segment(body, mark, payload[:adobe])
		case mark >= markApp0 && mark <= markApp15, mark == markCOM:
		case mark == markDQT, mark == markDHT, mark == markDRI, mark >= 0xc0 && mark <= markSOF2:
			body = segment(body, mark, payload)
		case mark == markSOS:
			body = append(segment(body, mark, payload), scan...)
		default:
			return errors.New("it is coded in a way that few can read")
		}
		return nil
	})
	if err != nil {
		return nil, Told{}, malformed(err)
	}
	out := []byte{0xff, markSOI}
	if exif := writeExif(told); exif != nil {
		out = segment(out, markApp1, append([]byte(exifMark), exif...))
	}
	return append(append(out, body...), 0xff, markEOI), told, nil
}

func segment(out []byte, mark byte, payload []byte) []byte {
	out = binary.BigEndian.AppendUint16(append(out, 0xff, mark), uint16(len(payload)+2))
	return append(out, payload...)
}

var errShort = errors.New("it ends early")

// segments walks the image up to its end; what stands behind is another's.
func segments(data []byte, f func(mark byte, payload, scan []byte) error) error {
	for at := 2; ; {
		for at < len(data) && data[at] == 0xff { // any number of fill bytes, B.1.1.2
			at++
		}
		if at >= len(data) || data[at-1] != 0xff {
			return errShort
		}
		mark := data[at]
		at++
		if mark == markEOI {
			return nil
		}
		if at+2 > len(data) {
			return errShort
		}
		n := int(binary.BigEndian.Uint16(data[at:]))
		if n < 2 || at+n > len(data) {
			return errShort
		}
		payload := data[at+2 : at+n]
		at += n
		var scan []byte
		if mark == markSOS {
			end := at + scanLength(data[at:])
			scan, at = data[at:end], end
		}
		if err := f(mark, payload, scan); err != nil {
			return err
		}
	}
}

// scanLength finds the next marker that is neither a stuffed byte nor a restart.
func scanLength(data []byte) int {
	for i := 0; i+1 < len(data); i++ {
		if next := data[i+1]; data[i] == 0xff && next != 0 && next != 0xff && (next < 0xd0 || next > 0xd7) {
			return i
		}
	}
	return len(data)
}

// progressive reports a JPEG whose scans refine each other.
func progressive(data []byte) (found bool) {
	_ = segments(data, func(mark byte, _, _ []byte) error {
		found = found || mark == markSOF2
		return nil
	})
	return found
}
