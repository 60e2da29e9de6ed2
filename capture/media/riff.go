package media

import (
	"encoding/binary"
	"errors"
	"strings"
)

// chunks walks the chunks of a RIFF file; each begins at an even place. A last
// one that claims more than there is, as recorders leave it, has what there is
// when cut is true.
func chunks(data []byte, cut bool, f func(name string, payload []byte) error) error {
	rest := data[12:]
	for len(rest) >= 8 {
		n, name := int64(binary.LittleEndian.Uint32(rest[4:])), string(rest[:4])
		if n > int64(len(rest)-8) {
			if !cut {
				return errShort
			}
			n = int64(len(rest) - 8)
		}
		if err := f(name, rest[8:8+n]); err != nil {
			return err
		}
		rest = rest[min(8+n+n&1, int64(len(rest))):]
	}
	return nil
}

func chunk(out []byte, name string, payload []byte) []byte {
	out = binary.LittleEndian.AppendUint32(append(out, name...), uint32(len(payload)))
	out = append(out, payload...)
	if len(payload)%2 == 1 {
		out = append(out, 0)
	}
	return out
}

// file puts the head of a RIFF file before its chunks.
func fileRIFF(form string, body []byte) []byte {
	out := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body)+4))
	return append(append(out, form...), body...)
}

// Flags of the first byte of VP8X (RFC 9649, 2.7.1).
const (
	webpAnimated = 0x02
	webpExif     = 0x08
	webpAlpha    = 0x10
)

// cleanWebP keeps the image and what is to be kept of Exif.
func cleanWebP(data []byte) ([]byte, Told, error) {
	var told Told
	var head, image []byte
	err := chunks(data, false, func(name string, payload []byte) error {
		switch name {
		case "VP8X":
			if len(payload) < 10 || payload[0]&webpAnimated != 0 {
				return errors.New("it moves: send a still picture")
			}
			head = append([]byte{payload[0] & webpAlpha, 0, 0, 0}, payload[4:10]...)
		case "VP8 ", "VP8L", "ALPH":
			image = chunk(image, name, payload)
		case "EXIF":
			told = readExif([]byte(strings.TrimPrefix(string(payload), exifMark)))
		case "ANIM", "ANMF":
			return errors.New("it moves: send a still picture")
		}
		return nil
	})
	if err != nil {
		return nil, Told{}, malformed(err)
	}
	var body []byte
	exif := writeExif(told)
	if head == nil { // the simple form has no room for it
		exif, told = nil, Told{}
	} else {
		if exif != nil {
			head[0] |= webpExif
		}
		body = chunk(nil, "VP8X", head)
	}
	if body = append(body, image...); exif != nil {
		body = chunk(body, "EXIF", exif)
	}
	return fileRIFF("WEBP", body), told, nil
}

// cleanWAV keeps the form and the samples.
func cleanWAV(data []byte) ([]byte, error) {
	var body []byte
	seen := ""
	err := chunks(data, true, func(name string, payload []byte) error {
		switch name {
		case "fmt ", "fact", "data":
			body = chunk(body, name, payload)
			seen += name
		}
		return nil
	})
	if err == nil && !(strings.Contains(seen, "fmt ") && strings.Contains(seen, "data")) {
		err = errShort
	}
	if err != nil {
		return nil, malformed(err)
	}
	return fileRIFF("WAVE", body), nil
}
