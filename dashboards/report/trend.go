package report

import (
	_ "embed"
	"math"
	"strconv"
	"strings"

	"steadyrail/capture"
)

//go:embed trend.html
var trendText string

// trendRow is how a rail moved, as one clip saw it.
type trendRow struct {
	Rail, Channel string
	Readings      cell
	Median, Range string
	Slope         cell
	Tau, P        string
	Left          string
	Curve         string
	Say           []string
}

func (t teller) trends() (out []trendRow) {
	for _, r := range t.d.Rails {
		for _, tr := range r.Trends {
			out = append(out, t.trendRow(r, tr))
		}
	}
	return out
}

func (t teller) trendRow(e capture.RailEvidence, tr capture.Trend) trendRow {
	r, u := e.Rail, capture.Volt
	digit := max(figureDigits(tr.SD, r), countOf(e, tr.Channel))
	row := trendRow{
		Rail: named(r.Name), Channel: string(tr.Channel), Readings: cell{Text: whole(tr.N), Note: whole(int64(tr.Effective)) + " independent"},
		Median: fig(u, tr.Median, digit), Range: fig(u, tr.Low, digit) + " to " + fig(u, tr.High, digit), Curve: curveText(tr.Curve), Left: t.leftText(tr),
	}
	if tr.Longer {
		row.Readings.Note = "fewer than " + row.Readings.Note
	}
	for _, s := range tr.Say {
		row.Say = append(row.Say, sentence(s))
	}
	if tr.Blocks == 0 || len(tr.Curve) == 0 {
		row.Slope, row.Tau, row.P, row.Left = cell{Text: "too short"}, "–", "–", "–"
		return row
	}
	digit = figureDigits((tr.SlopeHigh-tr.SlopeLow)/2, r)
	row.Slope = cell{Text: fig(u, tr.Slope, digit), Note: fig(u, tr.SlopeLow, digit) + " to " + fig(u, tr.SlopeHigh, digit)}
	if tr.Why != "" {
		row.Slope.Note += ", or more"
	}
	row.Tau, row.P = tied(capture.TrueMinus(strconv.FormatFloat(tr.Tau, 'f', 2, 64))), levelText(tr.P)
	return row
}

// figureDigits is the resolution that tells a tenth of a scatter, and no more
// than a ten thousandth of a rail's band where nothing scatters.
func figureDigits(sd float64, r capture.Rail) float64 {
	return math.Max(capture.Decade(sd)/10, capture.Decade(r.HalfBand()/1e4))
}

// countOf is one count of the channel: no quantile of its readings is finer.
func countOf(e capture.RailEvidence, ch capture.ChannelID) (count float64) {
	for _, w := range e.Watches {
		if w.Channel == ch {
			count = max(count, w.Resolution)
		}
	}
	return count
}

// levelText prints a chance as it is known: to two digits above a hundredth.
func levelText(p float64) string {
	if p < 0.01 {
		return "below" + nbsp + "0.01"
	}
	return strconv.FormatFloat(p, 'f', 2, 64)
}

// leftText says when the control charts first left their limits.
func (t teller) leftText(tr capture.Trend) string {
	var out []string
	if tr.Cusum != 0 {
		out = append(out, "CUSUM "+t.short(tr.Cusum))
	}
	if tr.Ewma != 0 {
		out = append(out, "EWMA "+t.short(tr.Ewma))
	}
	if out == nil {
		return "no"
	}
	return strings.Join(out, ", ")
}

// curveText prints a few points of the curve, the shortest and the longest among
// them.
func curveText(curve []capture.Steadiness) string {
	const most = 5
	var out []string
	step := max(1, (len(curve)+most-2)/(most-1))
	for i, c := range curve {
		if i%step == 0 || i == len(curve)-1 {
			out = append(out, twoDigits(capture.Volt, c.Deviation)+" over "+tied(span(c.Over)))
		}
	}
	return strings.Join(out, ", ")
}
