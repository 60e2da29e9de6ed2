package report

import (
	"bytes"
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestReportWithCommas: the report of a bench with commas is the same but for
// the mark, and the rails keep their names.
func TestReportWithCommas(t *testing.T) {
	write := func(mark capture.DecimalMark) string {
		d, o := fullStory(), options()
		o.Decimal = mark
		var b bytes.Buffer
		if err := HTML(&b, d, o); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	point, comma := write(capture.Point), write(capture.Comma)
	if point == comma || len(point) != len(comma) || strings.ReplaceAll(point, ",", ".") != strings.ReplaceAll(comma, ",", ".") {
		t.Error("the reports differ by more than the mark, or by nothing")
	}
}
