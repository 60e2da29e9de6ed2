package media

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"strings"
)

const pngMark = "\x89PNG\r\n\x1a\n"

// pngKept are the chunks of the image and of how its colours are meant (PNG,
// third edition, 11). Texts, times, profiles and further frames go.
const pngKept = "IHDR PLTE IDAT IEND tRNS cHRM gAMA sBIT sRGB bKGD pHYs"

// cleanPNG keeps the chunks of the image and what is to be kept of Exif.
func cleanPNG(data []byte) ([]byte, Told, error) {
	var told Told
	out := []byte(pngMark)
	first := 0 // where the chunk behind the header goes
	rest := data[len(pngMark):]
	for ended := false; !ended; {
		if len(rest) < 12 {
			return nil, Told{}, malformed(errShort)
		}
		n := binary.BigEndian.Uint32(rest)
		name := string(rest[4:8])
		if int64(n)+12 > int64(len(rest)) {
			return nil, Told{}, malformed(errShort)
		}
		whole := rest[:n+12]
		switch {
		case strings.Contains(pngKept, name) && !strings.Contains(name, " "):
			out = append(out, whole...)
		case name == "eXIf":
			told = readExif(whole[8 : 8+n])
		case name[0] >= 'A' && name[0] <= 'Z':
			return nil, Told{}, malformed(fmt.Errorf("it has a part %q that few can read", name))
		}
		if first == 0 {
			if name != "IHDR" {
				return nil, Told{}, malformed(errors.New("it does not begin with its size"))
			}
			first = len(out)
		}
		ended, rest = name == "IEND", rest[n+12:]
	}
	if exif := writeExif(told); exif != nil {
		out = append(append(append([]byte{}, out[:first]...), chunkPNG("eXIf", exif)...), out[first:]...)
	}
	return out, told, nil
}

func chunkPNG(name string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, name...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}
