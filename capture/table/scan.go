package table

import (
	"bufio"
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

// record is one row as it stands in the file. Its cells are valid for good.
type record struct {
	line  int // where it begins, from 1
	cells []string
	bad   string // why it cannot be read; the scanner goes on behind it
	last  bool   // so bad that nothing behind it can be read
}

// blank reports whether nothing stands in a row.
func (r record) blank() bool {
	for _, c := range r.cells {
		if c != "" {
			return false
		}
	}
	return r.bad == ""
}

// scanner splits UTF-8 into records after RFC 4180, with the liberties that
// files take: lines may end in LF or CR alone, and a quote inside a cell that
// did not begin with one is a character like others. Spaces around a cell are
// cut off, which RFC 4180 would keep.
type scanner struct {
	r    *bufio.Reader
	sep  byte
	line int // of the next byte
	buf  []byte
	ends []int
}

func newScanner(r *bufio.Reader, sep byte) *scanner { return &scanner{r: r, sep: sep, line: 1} }

var errTooLong = errors.New("too long")

// next returns the next record, or [io.EOF], or the error of the file.
func (s *scanner) next() (record, error) {
	rec := record{line: s.line}
	s.buf, s.ends = s.buf[:0], s.ends[:0]
	c, err := s.byte()
	if err != nil {
		return rec, err
	}
	for more := true; more; {
		if c == '"' {
			more, err = s.quoted(&rec)
		} else {
			more, err = s.plain(c)
		}
		s.ends = append(s.ends, len(s.buf))
		if len(s.ends) > MaxColumns {
			rec.bad, rec.last = "more than "+itoa(MaxColumns)+" cells", true
			return rec, nil
		}
		if more && err == nil {
			c, err = s.byte()
		}
		if err == io.EOF {
			if more {
				s.ends = append(s.ends, len(s.buf)) // the file ends behind a separator
			}
			break
		}
		if err == errTooLong {
			rec.bad, rec.last = s.tooLong(rec), true
			return rec, nil
		}
		if err != nil {
			return rec, err
		}
	}
	s.cut(&rec)
	return rec, nil
}

func (s *scanner) tooLong(rec record) string {
	if rec.bad != "" {
		return rec.bad
	}
	return "longer than 64 KiB: this is no row of a table"
}

// plain reads a cell without quotes and tells whether another one follows.
func (s *scanner) plain(c byte) (more bool, err error) {
	for {
		switch c {
		case s.sep:
			return true, nil
		case '\r', '\n':
			return false, s.endLine(c)
		}
		if err := s.put(c); err != nil {
			return false, err
		}
		if c, err = s.byte(); err != nil {
			return false, err
		}
	}
}

// quoted reads a cell behind its opening quote.
func (s *scanner) quoted(rec *record) (more bool, err error) {
	opened := s.line
	for {
		c, err := s.byte()
		if err == nil && c != '"' {
			err = s.putQuoted(c)
		} else if err == nil {
			if c, err = s.byte(); err == nil && c != '"' {
				return s.behind(rec, c)
			} else if err == nil {
				err = s.put('"')
			} else if err == io.EOF {
				return false, err
			}
		}
		if err != nil {
			if err == io.EOF || err == errTooLong {
				rec.bad, rec.last = "the quote that is opened in line "+itoa(opened)+" is not closed", true
			}
			return false, err
		}
	}
}

// behind reads what follows a closing quote: a separator or the end of the line.
func (s *scanner) behind(rec *record, c byte) (more bool, err error) {
	for c == ' ' {
		if c, err = s.byte(); err != nil {
			return false, err
		}
	}
	if c != s.sep && c != '\r' && c != '\n' {
		rec.bad = "text behind a closing quote"
	}
	return s.plain(c)
}

func (s *scanner) putQuoted(c byte) error {
	if c == '\n' {
		s.line++
	}
	return s.put(c)
}

func (s *scanner) put(c byte) error {
	if len(s.buf) >= MaxRecord {
		return errTooLong
	}
	s.buf = append(s.buf, c)
	return nil
}

func (s *scanner) byte() (byte, error) { return s.r.ReadByte() }

// endLine takes the LF of a CR LF too.
func (s *scanner) endLine(c byte) error {
	s.line++
	if c != '\r' {
		return nil
	}
	if next, err := s.r.Peek(1); err == nil && next[0] == '\n' {
		_, _ = s.r.Discard(1)
	} else if err != nil && err != io.EOF {
		return err
	}
	return nil
}

// cut splits what was read into cells and looks whether it is text.
func (s *scanner) cut(rec *record) {
	text := string(s.buf)
	switch {
	case rec.bad != "":
	case strings.IndexByte(text, 0) >= 0:
		rec.bad = "a NUL byte: the file is damaged, or it is UTF-16 without a mark, then give --encoding utf-16le"
	case !utf8.ValidString(text):
		rec.bad = "not UTF-8; if the file is in Latin-1 give --encoding latin-1"
	}
	rec.cells = make([]string, len(s.ends))
	begin := 0
	for i, end := range s.ends {
		rec.cells[i] = strings.TrimSpace(text[begin:end])
		begin = end
	}
}
