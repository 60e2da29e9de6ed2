package report

import (
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
		row := instrumentRow{Name: in.Name, Title: in.Title, Identity: identity(in.Identity), Simulated: in.Simulated, Accuracy: strings.Join(t.accuracyUsed(in), "; ")}
		if row.Title == "" {
			row.Title = in.Model
		}
		if row.Accuracy == "" {
			row.Accuracy = "not stated: indicated only"
		}
		row.Measured = strings.Join(t.measured(in), ", ")
		if row.Measured == "" {
			row.Measured = "nothing that is reported"
		}
		row.Calibration, row.Overdue = t.calibration(in)
		out = append(out, row)
	}
	return out
}

func identity(id capture.Identity) string {
	if id == (capture.Identity{}) {
		return "identity not known"
	}
	return id.String()
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
		return verdict{"doubt", in.CalibrationDue + ", overdue"}, true
	}
	return verdict{"", in.CalibrationDue}, false
}

// figures calls yield with every figure that the report prints.
func (t teller) figures(yield func(rail string, q capture.Quantity, ch capture.ChannelID, v float64, judged bool)) {
	for _, r := range t.d.Rails {
		for _, x := range slices.Concat(r.Before, r.After) {
			yield(r.Rail.Name, x.Quantity, x.Channel, x.Value, x.Outcome != capture.NoData)
		}
		for _, v := range r.Verdicts {
			yield(r.Rail.Name, capture.NoQuantity, v.Channel, v.Value, v.Outcome != capture.NoData)
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

// accuracyUsed prints, for each channel that gave a figure, the statement of
// the smallest range that holds what was read. All ranges stand in the annex.
func (t teller) accuracyUsed(in capture.InstrumentInfo) []string {
	largest := map[capture.ChannelID]float64{}
	t.figures(func(_ string, _ capture.Quantity, ch capture.ChannelID, v float64, _ bool) {
		if ch.Instrument() == in.Name {
			largest[ch] = math.Max(largest[ch], math.Abs(v))
		}
	})
	var out []string
	for _, c := range in.Channels {
		v, used := largest[c.ID]
		if !used || len(c.Accuracy) == 0 {
			continue
		}
		best := c.Accuracy[0]
		for _, a := range c.Accuracy[1:] {
			if a.Range >= v && (best.Range < v || a.Range < best.Range) {
				best = a
			}
		}
		text := accuracyText(c, best)
		if c.Setpoint {
			text += " (read-back)"
		}
		out = append(out, text)
	}
	return out
}

// accuracyText prints a maker's statement: "0.015 % + 0.4 mV, 10 V range".
func accuracyText(c capture.ChannelInfo, a capture.Accuracy) string {
	var parts []string
	share := func(v float64) string { return strconv.FormatFloat(v*100, 'g', 4, 64) + nbsp + "%" }
	u := c.Quantity.Unit()
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
	text := strings.Join(parts, " + ")
	if a.Range > 0 {
		text += ", " + strconv.FormatFloat(a.Range, 'g', 6, 64) + nbsp + u.Symbol() + " range"
	}
	return text
}

type accuracyRow struct{ Channel, Accuracy, Resolution, Aperture, Source string }

// accuracies lists every statement that the uncertainties rest on.
func (t teller) accuracies() []accuracyRow {
	var out []accuracyRow
	for _, in := range t.d.Roster.Instruments {
		for _, c := range in.Channels {
			aperture := "not stated"
			if c.Aperture > 0 {
				aperture = span(c.Aperture)
			}
			if len(c.Accuracy) == 0 {
				out = append(out, accuracyRow{string(c.ID), "not stated: indicated only", "", aperture, ""})
			}
			for _, a := range c.Accuracy {
				res := ""
				if a.Resolution > 0 {
					res = fig(c.Quantity.Unit(), a.Resolution, a.Resolution)
				}
				out = append(out, accuracyRow{string(c.ID), accuracyText(c, a), res, aperture, a.Uncertainty})
			}
		}
	}
	return out
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
				out = append(out, "Verdicts on "+and(rest)+" rest on "+in.Name+", whose calibration is overdue: read them as indicated only.")
			}
		}
	}
	return out
}
