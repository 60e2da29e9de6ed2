package table

import (
	"bufio"
	"io"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// Writer writes rows after RFC 4180: lines end in CR LF, a cell that holds a
// separator, a quote or the end of a line stands in quotes, and a quote in it
// twice. What is written waits in a buffer until Flush.
type Writer struct {
	w    *bufio.Writer
	mark capture.DecimalMark
	sep  byte
}

// NewWriter returns a writer in the dialect of a decimal sign: commas between
// cells with the point, semicolons with the comma.
func NewWriter(w io.Writer, mark capture.DecimalMark) *Writer {
	sep := byte(',')
	if mark == capture.Comma {
		sep = ';'
	}
	return &Writer{w: bufio.NewWriterSize(w, 64<<10), mark: mark, sep: sep}
}

// Row writes a line. An error of an earlier line comes again.
func (w *Writer) Row(cells ...string) error {
	for i, c := range cells {
		if i > 0 {
			_ = w.w.WriteByte(w.sep)
		}
		if len(cells) == 1 && c == "" || strings.IndexByte(c, w.sep) >= 0 || strings.ContainsAny(c, "\"\r\n") {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		_, _ = w.w.WriteString(c)
	}
	_, err := w.w.WriteString("\r\n") // RFC 4180, section 2, point 1
	return err
}

// Number prints the shortest digits that read back to the same value, with the
// decimal sign of the dialect.
func (w *Writer) Number(v float64) string {
	return w.mark.Write(strconv.FormatFloat(v, 'g', -1, 64))
}

// Flush hands on what waits.
func (w *Writer) Flush() error { return w.w.Flush() }

// Stamp prints an instant as ISO 8601 with microseconds and offset; what is not
// known is empty. A nil zone is UTC.
func Stamp(at capture.Instant, zone *time.Location) string {
	if at.IsZero() {
		return ""
	}
	if zone == nil {
		zone = time.UTC
	}
	return at.Time().In(zone).Format("2006-01-02T15:04:05.000000-07:00")
}
