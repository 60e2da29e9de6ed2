package report

import (
	"math"
	"slices"
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
