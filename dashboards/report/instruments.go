package report

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

type instrumentRow struct {
	Name, Title, Identity, Measured, Accuracy string
	Calibration                               verdict
	Overdue, Simulated                        bool
}

func (t teller) instruments() []instrumentRow {
	var out []instrumentRow
	for _, in := range t.d.Roster.Instruments {
		if t.idleHand(in) {
			continue
		}
		row := instrumentRow{Name: in.Name, Title: in.Title, Identity: identity(in.Identity), Simulated: in.Simulated, Accuracy: strings.Join(t.accuracyUsed(in), "; ")}
		if row.Title == "" {
			row.Title = in.Model
		}
		row.Measured = strings.Join(t.measured(in), ", ")
		switch {
		case row.Measured == "":
			row.Measured, row.Accuracy = "nothing that is reported", "\u2013"
		case row.Accuracy == "":
			row.Accuracy = "not stated: indicated only"
		}
		row.Calibration, row.Overdue = t.calibration(in)
		out = append(out, row)
	}
	return out
}

// idleHand reports whether an instrument is the hand that enters what an eye has
// read, and entered nothing. The entry's verb is capture/job's, which this room
// may not import.
func (t teller) idleHand(in capture.InstrumentInfo) bool {
	// The entry names the meter where one was said; that one has a line of its own.
	typed := func(e capture.Entry) bool {
		return e.Act.Verb == "typed" && (len(in.Channels) > 0 || !strings.HasPrefix(e.Text, "Read by eye from "))
	}
	return in.Model == "hand" && len(t.measured(in)) == 0 && !slices.ContainsFunc(t.d.Entries, typed)
}

func identity(id capture.Identity) string {
	if id == (capture.Identity{}) {
		return "identity not known"
	}
	return strings.Replace(id.String(), "serial number ", "no."+nbsp, 1)
}

// calibration judges the due date against the day of the last reading.
func (t teller) calibration(in capture.InstrumentInfo) (verdict, bool) {
	if in.CalibrationDue == "" {
		return verdict{"silent", "not stated"}, false
	}
	due, err := time.ParseInLocation("2006-01-02", in.CalibrationDue, t.o.Zone)
	if err != nil {
		return verdict{"doubt", in.CalibrationDue + ", not a date"}, false
	}
	used := t.d.To
	if used.IsZero() {
		used = t.o.Written
	}
	if !used.IsZero() && used.Time().After(due.AddDate(0, 0, 1)) {
		return verdict{"doubt", tied(in.CalibrationDue) + ", overdue"}, true
	}
	return verdict{"", in.CalibrationDue}, false
}

// figures calls yield with every figure that the report prints; a verdict that
// rests on time alone comes with no number.
func (t teller) figures(yield func(rail string, q capture.Quantity, ch capture.ChannelID, v float64, judged bool)) {
	for _, r := range t.d.Rails {
		for _, x := range slices.Concat(r.Before, r.After) {
			yield(r.Rail.Name, x.Quantity, x.Channel, x.Value, x.Outcome != capture.NoData)
		}
		for _, v := range r.Verdicts {
			value := v.Value
			if v.N == 0 {
				value = math.NaN()
			}
			yield(r.Rail.Name, capture.NoQuantity, v.Channel, value, v.Outcome != capture.NoData)
		}
		for _, w := range r.Watches {
			if w.N > 0 {
				yield(r.Rail.Name, capture.DCVoltage, w.Channel, math.Max(math.Abs(w.Max), math.Abs(w.Min)), false)
			}
		}
	}
	for _, w := range t.d.Points {
		if w.N > 0 {
			yield(t.pointName(w), capture.NoQuantity, w.Channel, math.Max(math.Abs(w.Max), math.Abs(w.Min)), false)
		}
	}
}

func (t teller) measured(in capture.InstrumentInfo) []string {
	var out []string
	t.figures(func(rail string, _ capture.Quantity, ch capture.ChannelID, _ float64, _ bool) {
		if name := named(rail); ch.Instrument() == in.Name && !slices.Contains(out, name) {
			out = append(out, name)
		}
	})
	return out
}

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

// instrumentNotes says what rests on an instrument whose calibration is
// overdue, and what is read-back.
func (t teller) instrumentNotes() []string {
	var out []string
	for _, in := range t.d.Roster.Instruments {
		if _, overdue := t.calibration(in); overdue {
			var rest []string
			t.figures(func(rail string, _ capture.Quantity, ch capture.ChannelID, _ float64, judged bool) {
				if name := named(rail); judged && ch.Instrument() == in.Name && !slices.Contains(rest, name) {
					rest = append(rest, name)
				}
			})
			if len(rest) == 0 {
				out = append(out, "No verdict rests on "+in.Name+", whose calibration is overdue: its figures are shown for information.")
			} else {
				out = append(out, "Verdicts on "+capture.Listed(rest)+" rest on "+in.Name+", whose calibration is overdue: read them as indicated only.")
			}
		}
	}
	return out
}
