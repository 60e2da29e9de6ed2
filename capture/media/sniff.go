package media

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

func reader(data []byte) io.Reader { return bytes.NewReader(data) }

// kind is one kind of file, told by how it begins.
type kind struct {
	name    string
	is      func([]byte) bool
	picture func([]byte) ([]byte, Told, error) // returns what is kept
	sound   func([]byte) ([]byte, error)
}

// kinds is the table. The marks: ITU-T T.81 B.1.1.3; PNG (third edition) 5.2; RIFF
// and WebP (RFC 9649, 2.4); Ogg (RFC 3533, 6); EBML (RFC 8794, 8.1); ISO/IEC 14496-12, 4.3.
var kinds = []kind{
	{name: "image/jpeg", is: begins("\xff\xd8\xff"), picture: cleanJPEG},
	{name: "image/png", is: begins(pngMark), picture: cleanPNG},
	{name: "image/webp", is: riff("WEBP"), picture: cleanWebP},
	{name: "audio/wav", is: riff("WAVE"), sound: cleanWAV},
	{name: "audio/ogg", is: begins("OggS"), sound: cleanOgg},
	{name: "audio/webm", is: begins("\x1a\x45\xdf\xa3"), sound: cleanWebM},
	{name: "audio/mp4", is: isMP4, sound: cleanMP4},
}

func sniff(data []byte) *kind {
	for i := range kinds {
		if kinds[i].is(data) {
			return &kinds[i]
		}
	}
	return nil
}

func begins(mark string) func([]byte) bool {
	return func(data []byte) bool { return bytes.HasPrefix(data, []byte(mark)) }
}

func riff(form string) func([]byte) bool {
	return func(data []byte) bool {
		return len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == form
	}
}

// brand returns the major brand of a file of boxes, "" for another.
func brand(data []byte) string {
	if len(data) < 12 || string(data[4:8]) != "ftyp" {
		return ""
	}
	return string(data[8:12])
}

// stills are brands of pictures in boxes (ISO/IEC 23008-12, annex B; AVIF).
var stills = []string{"heic", "heix", "heim", "heis", "hevc", "mif1", "msf1", "avif", "avis"}

func isStill(data []byte) bool {
	return strings.Contains(strings.Join(stills, " "), brand(data)) && brand(data) != ""
}

func isMP4(data []byte) bool { return brand(data) != "" && !isStill(data) }

func unknown(data []byte) error {
	if isStill(data) {
		return fmt.Errorf("%w; this is a picture of the kind %q: set the camera to take JPEG", ErrUnknown, brand(data))
	}
	return ErrUnknown
}

// Type tells what a file is by how it begins; "" for what is not kept.
func Type(data []byte) string {
	if k := sniff(data); k != nil {
		return k.name
	}
	return ""
}
