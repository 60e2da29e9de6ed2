package report

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// accuracyUsed names, for each channel that gave a figure, the smallest ranges
// that hold what was read; a single one with its statement. All stand in the
// annex.
func (t teller) accuracyUsed(in capture.InstrumentInfo) []string {
	var out []string
	annex := false
	for _, c := range in.Channels {
		used := t.rangesUsed(c)
		text := ""
		switch {
		case len(used) == 0:
			continue
		case len(used) == 1:
			text = accuracyText(used[0])
			if r := rangeText(c, used[0]); r != "" {
				text += ", " + r + " range"
			}
		default:
			var ranges []string
			for _, a := range used {
				ranges = append(ranges, rangeText(c, a))
			}
			text = strings.TrimPrefix(string(c.ID), in.Name+"/") + ": ranges " + capture.Listed(ranges)
		}
		if c.InputOhms > 0 {
			text = strings.TrimPrefix(text+", ", ", ") + "input " + capture.Ohm.Text(c.InputOhms, c.InputOhms/10)
		}
		if c.Setpoint {
			text += " (read-back)"
		}
		out = append(out, text)
		annex = annex || len(used) > 1
	}
	if annex {
		out = append(out, "see annex")
	}
	return out
}

// rangesUsed lists the accuracies of a channel that its figures rest on, in
// their order.
func (t teller) rangesUsed(c capture.ChannelInfo) []capture.Accuracy {
	used := make([]bool, len(c.Accuracy))
	t.figures(func(_ string, _ capture.Quantity, ch capture.ChannelID, v float64, _ bool) {
		if ch != c.ID || len(used) == 0 || math.IsNaN(v) {
			return
		}
		best := 0
		for i, a := range c.Accuracy {
			if held := c.Accuracy[best].Range; a.Range >= math.Abs(v) && (held < math.Abs(v) || a.Range < held) {
				best = i
			}
		}
		used[best] = true
	})
	var out []capture.Accuracy
	for i, a := range c.Accuracy {
		if used[i] {
			out = append(out, a)
		}
	}
	return out
}

// rangeText names a range: "10 MΩ".
func rangeText(c capture.ChannelInfo, a capture.Accuracy) string {
	if a.Range <= 0 {
		return ""
	}
	return fig(c.Quantity.Unit(), a.Range, 0)
}

// accuracyText prints a maker's statement: "0.015 % of reading + 2 counts".
func accuracyText(a capture.Accuracy) string {
	var parts []string
	share := func(v float64) string { return strconv.FormatFloat(v*100, 'g', 4, 64) + nbsp + "%" }
	if a.OfReading > 0 {
		parts = append(parts, share(a.OfReading)+" of reading")
	}
	if a.OfRange > 0 {
		parts = append(parts, share(a.OfRange)+" of range")
	}
	if a.Digits > 0 {
		parts = append(parts, strconv.FormatFloat(a.Digits, 'g', 4, 64)+nbsp+"counts")
	}
	if len(parts) == 0 {
		return "not stated"
	}
	return strings.Join(parts, " + ")
}

type accuracyRow struct{ Range, Accuracy, Resolution string }

// accuracyGroup is one statement and the channels that share it.
type accuracyGroup struct {
	Channels, Aperture, Source string
	Rows                       []accuracyRow
}

// accuracies lists every statement that a reported figure can rest on, once.
func (t teller) accuracies() []accuracyGroup {
	reported := map[capture.ChannelID]bool{}
	t.figures(func(_ string, _ capture.Quantity, ch capture.ChannelID, _ float64, _ bool) { reported[ch] = true })
	var out []accuracyGroup
	for _, in := range t.d.Roster.Instruments {
		for _, c := range in.Channels {
			if !reported[c.ID] {
				continue
			}
			g := accuraciesOf(c)
			same := func(o accuracyGroup) bool {
				return o.Aperture == g.Aperture && o.Source == g.Source && slices.Equal(o.Rows, g.Rows)
			}
			if i := slices.IndexFunc(out, same); i >= 0 {
				out[i].Channels += ", " + g.Channels
				continue
			}
			out = append(out, g)
		}
	}
	return out
}

func accuraciesOf(c capture.ChannelInfo) accuracyGroup {
	g := accuracyGroup{Channels: string(c.ID), Aperture: "aperture not stated"}
	if c.Aperture > 0 {
		g.Aperture = "aperture " + span(c.Aperture)
	}
	var sources []string
	for _, a := range c.Accuracy {
		row := accuracyRow{Range: rangeText(c, a), Accuracy: accuracyText(a)}
		if a.Resolution > 0 {
			row.Resolution = fig(c.Quantity.Unit(), a.Resolution, 0)
		}
		g.Rows = append(g.Rows, row)
		if a.Uncertainty != "" && !slices.Contains(sources, a.Uncertainty) {
			sources = append(sources, a.Uncertainty)
		}
	}
	if len(g.Rows) == 0 {
		g.Rows = []accuracyRow{{Accuracy: "not stated: indicated only"}}
	}
	g.Source = strings.Join(sources, "; ")
	return g
}

// oneSource takes the source out of the groups where all that name one name the
// same: it is told once, below.
func oneSource(groups []accuracyGroup) string {
	source := ""
	for _, g := range groups {
		if source != "" && g.Source != "" && g.Source != source {
			return ""
		}
		source = cmp.Or(source, g.Source)
	}
	if slices.ContainsFunc(groups, func(g accuracyGroup) bool { return g.Source == "" }) {
		return ""
	}
	for i := range groups {
		groups[i].Source = ""
	}
	return source
}
