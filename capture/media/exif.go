package media

import (
	"encoding/binary"
	"strings"
)

// Tags (Exif 3.0, CIPA DC-008, tables 4 and 8; TIFF 6.0).
const (
	tagUp      = 0x0112 // SHORT
	tagExif    = 0x8769 // LONG: where the Exif directory stands
	tagVersion = 0x9000 // UNDEFINED
	tagClock   = 0x9003 // ASCII: DateTimeOriginal
	tagOffset  = 0x9010 // ASCII: OffsetTime, of when the file was changed
	tagOffset0 = 0x9011 // ASCII: OffsetTimeOriginal
)

// Types of a field, TIFF 6.0, page 15.
const (
	typeASCII     = 2
	typeShort     = 3
	typeLong      = 4
	typeUndefined = 7
)

// mostFields bounds a directory: a real one has fewer.
const mostFields = 500

// readExif reads orientation and time from a TIFF structure; what cannot be read
// is not said.
func readExif(tiff []byte) (t Told) {
	d := directory{data: tiff}
	switch {
	case len(tiff) < 8:
		return t
	case string(tiff[:4]) == "II*\x00":
		d.order = binary.LittleEndian
	case string(tiff[:4]) == "MM\x00*":
		d.order = binary.BigEndian
	default:
		return t
	}
	exif := uint32(0)
	d.each(d.order.Uint32(tiff[4:]), func(tag, kind uint16, count uint32, field []byte) {
		switch {
		case tag == tagUp && kind == typeShort:
			t.Up = up(int(d.order.Uint16(field)))
		case tag == tagExif && kind == typeLong:
			exif = d.order.Uint32(field)
		}
	})
	changed := ""
	d.each(exif, func(tag, kind uint16, count uint32, field []byte) {
		if kind != typeASCII {
			return
		}
		switch tag {
		case tagClock:
			t.Clock = like("dddd:dd:dd dd:dd:dd", d.text(count, field))
		case tagOffset0:
			t.Offset = like("sdd:dd", d.text(count, field))
		case tagOffset:
			changed = like("sdd:dd", d.text(count, field))
		}
	})
	if t.Offset == "" {
		t.Offset = changed
	}
	if t.Clock == "" {
		t.Offset = ""
	}
	return t
}

func up(v int) int {
	if v < 1 || v > 8 {
		return 0
	}
	return v
}

type directory struct {
	data  []byte
	order binary.ByteOrder
}

// each calls f with the fields of the directory at an offset. field holds the
// four bytes of the value, or of where it stands.
func (d directory) each(at uint32, f func(tag, kind uint16, count uint32, field []byte)) {
	if at < 8 || int64(at)+2 > int64(len(d.data)) {
		return
	}
	n := int(d.order.Uint16(d.data[at:]))
	rest := d.data[at+2:]
	for i := 0; i < min(n, mostFields) && len(rest) >= 12; i++ {
		f(d.order.Uint16(rest), d.order.Uint16(rest[2:]), d.order.Uint32(rest[4:]), rest[8:12])
		rest = rest[12:]
	}
}

// text returns a short text.
func (d directory) text(count uint32, field []byte) string {
	if count > 64 {
		return ""
	}
	if count > 4 {
		at := d.order.Uint32(field)
		if int64(at)+int64(count) > int64(len(d.data)) {
			return ""
		}
		field = d.data[at:]
	}
	return strings.TrimRight(string(field[:count]), "\x00 ")
}

// like returns s when it has the form: d a digit, s a sign, others themselves.
// Nothing else may come through: a field of free text is a place to hide in.
func like(form, s string) string {
	if len(s) != len(form) {
		return ""
	}
	for i := range form {
		digit, sign := s[i] >= '0' && s[i] <= '9', s[i] == '+' || s[i] == '-'
		if !(form[i] == 'd' && digit || form[i] == 's' && sign || form[i] == s[i] && form[i] != 'd' && form[i] != 's') {
			return ""
		}
	}
	return s
}

// writeExif makes a TIFF structure of what is kept; nil when that is nothing.
func writeExif(t Told) []byte {
	if t.Up == 0 && t.Clock == "" {
		return nil
	}
	type field struct {
		tag, kind uint16
		count     uint32
		value     []byte
	}
	be := binary.BigEndian
	var out []byte
	// dir writes a directory, and the values that do not fit into four bytes behind it.
	dir := func(fields []field) {
		behind := uint32(len(out) + 2 + 12*len(fields) + 4)
		out = be.AppendUint16(out, uint16(len(fields)))
		var long []byte
		for _, f := range fields {
			out = be.AppendUint32(be.AppendUint16(be.AppendUint16(out, f.tag), f.kind), f.count)
			if len(f.value) > 4 {
				out = be.AppendUint32(out, behind+uint32(len(long)))
				long = append(long, f.value...)
				continue
			}
			out = append(out, append(append([]byte{}, f.value...), 0, 0, 0, 0)[:4]...)
		}
		out = append(be.AppendUint32(out, 0), long...)
	}
	out = append(out, "MM\x00*\x00\x00\x00\x08"...)
	var first []field
	if t.Up != 0 {
		first = append(first, field{tagUp, typeShort, 1, be.AppendUint16(nil, uint16(t.Up))})
	}
	if t.Clock == "" {
		dir(first)
		return out
	}
	behind := uint32(8 + 2 + 12*(len(first)+1) + 4)
	dir(append(first, field{tagExif, typeLong, 1, be.AppendUint32(nil, behind)}))
	exif := []field{{tagVersion, typeUndefined, 4, []byte("0300")}, {tagClock, typeASCII, 20, []byte(t.Clock + "\x00")}}
	if t.Offset != "" {
		exif = append(exif, field{tagOffset0, typeASCII, 7, []byte(t.Offset + "\x00")})
	}
	dir(exif)
	return out
}
