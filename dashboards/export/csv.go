// Package export writes the record of a job for other programs: CSV after RFC
// 4180, one line for each reading, in the order in which they were answered.
//
// Numbers are in base units, with a point and commas between cells, or, when it is
// asked for, with a decimal comma and semicolons; the column "text" is what the
// instrument sent and never changes. Times are ISO 8601 with seconds to the
// microsecond and the offset from UTC. A reading
// is filed under the rail where its channel stood, corrections of placements
// included, so the placements are read before the first line is written.
//
// Spreadsheets take a cell that begins with = + - @ for a formula. Columns that
// a person or an instrument can fill with text are therefore made harmless
// with an apostrophe before such a sign, except where the text is a plain number
// or begins like the name of a rail: "+5 V logic" and "-12 V audio" are left
// as they are, for a sign, digits and a letter V are no formula that can do
// anything. [Harmless] is the rule; the column header names no trick.
//
// The package holds no state; [WriteCSV] is safe for concurrent use.
package export

import (
	"fmt"
	"io"
	"iter"
	"regexp"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/table"
)

// Records is a job's log that can be read again: it is read twice.
type Records = iter.Seq2[capture.Record, error]

// Options change how the file is written. The zero value is RFC 4180 with UTC.
type Options struct {
	Zone *time.Location      // of both times; nil: UTC
	Mark capture.DecimalMark // the decimal sign, and with it the separator
}

// Columns are the names in the first line, in order.
func Columns() []string {
	return []string{"answered", "measured", "half_width_s", "channel", "rail", "point", "hold", "quantity", "value", "text", "unit", "resolution", "flags", "ordinal"}
}

// WriteCSV writes every reading of a job. The records must be in order and are
// ranged over twice, first for the placements. The first error of the records
// or of the writer ends it; what was written until then stays.
func WriteCSV(w io.Writer, records Records, o Options) error {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	where, err := placements(records)
	if err != nil {
		return fmt.Errorf("export: read placements: %w", err)
	}
	out := table.NewWriter(w, o.Mark)
	if err := out.Row(Columns()...); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	for rec, err := range records {
		if err != nil {
			return fmt.Errorf("export: read records: %w", err)
		}
		r, ok := rec.Item.(capture.Reading)
		if !ok {
			continue
		}
		if err := out.Row(line(out, rec.At, r, where, o.Zone)...); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

// placements folds the log. A correction that mends nothing changes nothing
// here either.
func placements(records Records) (*capture.Placements, error) {
	var p capture.Placements
	for rec, err := range records {
		if err != nil {
			return nil, err
		}
		if pl, ok := rec.Item.(capture.Placement); ok {
			_ = p.Apply(rec.At, pl)
		}
	}
	return &p, nil
}

func line(out *table.Writer, at capture.Instant, r capture.Reading, where *capture.Placements, zone *time.Location) []string {
	pl, placed := where.At(r.Channel, at)
	hold := ""
	if placed && (pl.Rail != "" || pl.Point != "") {
		hold = pl.Hold.String()
	}
	value, text := "", r.Text
	if r.HasValue() {
		value = out.Number(r.Value)
		if text == "" {
			text = plain(r.Value, r.Resolution)
		}
	}
	return []string{
		table.Stamp(at, zone), table.Stamp(r.Measured, zone), out.Number(r.HalfWidth.Seconds()), Harmless(string(r.Channel)), Harmless(pl.Rail), Harmless(pl.Point), hold,
		r.Quantity.String(), value, Harmless(text), r.Quantity.Unit().ASCII(), resolution(out, r.Resolution), r.Flags.String(), strconv.FormatUint(r.Ordinal, 10),
	}
}

// plain prints a computed value with the digits of its resolution.
func plain(v, resolution float64) string {
	return strings.Replace(capture.Figure(v, resolution), capture.MinusSign, "-", 1)
}

func resolution(out *table.Writer, v float64) string {
	if v <= 0 {
		return ""
	}
	return out.Number(v)
}

var (
	figure   = regexp.MustCompile(`^[+-]?[0-9.]+([eE][+-]?[0-9]+)?$`)
	railName = regexp.MustCompile(`^[+-][0-9.]+ ?[mk]?V($| [\pL\pN ._/()-]*$)`)
)

// Harmless returns text that no spreadsheet takes for a formula: an apostrophe
// goes before one that begins like a formula. It goes before a text that has
// one there already, too, or nobody could tell that apostrophe from ours.
func Harmless(text string) string {
	bare := strings.TrimLeft(text, "'")
	if bare == "" || !strings.ContainsRune("=+-@\t\r\n|%", rune(bare[0])) || figure.MatchString(bare) || railName.MatchString(bare) {
		return text
	}
	return "'" + text
}
