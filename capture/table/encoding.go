package table

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// Encoding is how a file writes its characters. The zero value is "find it".
type Encoding string

// The encodings.
const (
	UTF8    Encoding = "utf-8"
	Latin1  Encoding = "latin-1" // ISO 8859-1: has ° and µ, but no Ω
	UTF16LE Encoding = "utf-16le"
	UTF16BE Encoding = "utf-16be"
)

// ParseEncoding reads an encoding's name; empty is "find it".
func ParseEncoding(s string) (Encoding, error) {
	switch e := Encoding(s); e {
	case "", UTF8, Latin1, UTF16LE, UTF16BE:
		return e, nil
	}
	return "", fmt.Errorf("there is no encoding %q here: use utf-8, latin-1, utf-16le or utf-16be", s)
}

// marks are the byte order marks (Unicode 16.0, table 23-6).
var marks = []struct {
	mark string
	is   Encoding
}{{"\xef\xbb\xbf", UTF8}, {"\xff\xfe", UTF16LE}, {"\xfe\xff", UTF16BE}}

// decode returns the file as UTF-8 and its encoding: by its mark, else UTF-8
// when its beginning is that, else Latin-1, in which every byte is a character.
// An encoding that is wanted is taken, and a mark that fits it dropped.
func decode(r io.Reader, want Encoding) (*bufio.Reader, Encoding, error) {
	in := bufio.NewReaderSize(r, 64<<10)
	head, err := in.Peek(64 << 10)
	if err != nil && err != io.EOF {
		return nil, "", err
	}
	enc := want
	for _, m := range marks {
		if bytes.HasPrefix(head, []byte(m.mark)) && (enc == "" || enc == m.is) {
			enc = m.is
			_, _ = in.Discard(len(m.mark))
			break
		}
	}
	if enc == "" {
		enc = Latin1
		if validStart(head) {
			enc = UTF8
		}
	}
	switch enc {
	case UTF16LE:
		return bufio.NewReaderSize(&wide{in: in, order: binary.LittleEndian}, 64<<10), enc, nil
	case UTF16BE:
		return bufio.NewReaderSize(&wide{in: in, order: binary.BigEndian}, 64<<10), enc, nil
	case Latin1:
		return bufio.NewReaderSize(&narrow{in: in}, 64<<10), enc, nil
	}
	return in, enc, nil
}

// validStart reports whether bytes are UTF-8, up to a character cut by the end.
func validStart(b []byte) bool {
	for len(b) > 0 {
		r, n := utf8.DecodeRune(b)
		if r == utf8.RuneError && n == 1 {
			return !utf8.FullRune(b)
		}
		b = b[n:]
	}
	return true
}

// narrow turns ISO 8859-1 into UTF-8.
type narrow struct {
	in *bufio.Reader
}

func (n *narrow) Read(p []byte) (int, error) {
	out := p[:0]
	for len(out)+utf8.UTFMax <= len(p) {
		if len(out) > 0 && n.in.Buffered() == 0 {
			break
		}
		c, err := n.in.ReadByte()
		if err != nil {
			return len(out), err
		}
		out = utf8.AppendRune(out, rune(c))
	}
	return len(out), nil
}

// wide turns UTF-16 into UTF-8. A surrogate without its other half becomes
// U+FFFD, which no number holds.
type wide struct {
	in    *bufio.Reader
	order binary.ByteOrder
	ahead rune // read already; 0: nothing
}

func (w *wide) Read(p []byte) (int, error) {
	out := p[:0]
	for len(out)+utf8.UTFMax <= len(p) {
		if len(out) > 0 && w.ahead == 0 && w.in.Buffered() < 4 {
			break
		}
		r, err := w.next()
		if err != nil {
			return len(out), err
		}
		out = utf8.AppendRune(out, r)
	}
	return len(out), nil
}

func (w *wide) next() (rune, error) {
	r, err := w.unit()
	if err != nil || !utf16.IsSurrogate(r) {
		return r, err
	}
	low, err := w.unit()
	if err == io.EOF {
		return utf8.RuneError, nil
	}
	if err != nil {
		return 0, err
	}
	if pair := utf16.DecodeRune(r, low); pair != utf8.RuneError {
		return pair, nil
	}
	w.ahead = low
	return utf8.RuneError, nil
}

func (w *wide) unit() (rune, error) {
	if r := w.ahead; r != 0 {
		w.ahead = 0
		return r, nil
	}
	var b [2]byte
	if n, err := io.ReadFull(w.in, b[:]); err != nil {
		if n == 1 {
			return 0, fmt.Errorf("the file ends in half a character of UTF-16")
		}
		return 0, err
	}
	return rune(w.order.Uint16(b[:])), nil
}
