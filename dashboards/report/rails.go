package report

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// verdict is one judgement on paper: a mark, a word, never colour alone.
type verdict struct{ Mark, Word string }

// judged turns an outcome to its mark and to what is said of it.
func judged(o capture.Outcome, say string) verdict {
	v := map[capture.Outcome]verdict{
		capture.Pass: {"inside", "Inside"}, capture.ConditionalPass: {"doubt", "Cannot tell"},
		capture.ConditionalFail: {"doubt", "Cannot tell"}, capture.Fail: {"outside", "Failed"}, capture.NoData: {"silent", "No reading"},
	}[o]
	if v.Mark == "" {
		v = verdict{"silent", "No reading"}
	}
	if say != "" {
		v.Word = kept(say)
	}
	return v
}

type cell struct {
	Text, Note string
	Bad        bool
}

type railRow struct {
	Rail, Point          string
	Cold, Live, After, U cell
	Band                 string
	Verdict              verdict
}

func (t teller) rails() []railRow {
	var out []railRow
	for _, r := range t.d.Rails {
		row := railRow{Rail: named(r.Rail.Name), Point: r.Rail.Point, Band: bandText(r.Rail), Verdict: judged(capture.NoData, "Not judged")}
		if b, ok := asFound(r.Before, capture.Resistance); ok {
			row.Cold = reading(b)
		}
		row.Cold.beside(r.Reversed)
		if b, ok := asFound(r.Before, capture.DCVoltage); ok {
			row.Live = reading(b)
		}
		if a, ok := lastOf(r.After, capture.DCVoltage); ok {
			row.After = reading(a)
			row.U.Text = spread(capture.Volt, a.Uncertainty, a.Resolution)
			if row.U.Text == "" {
				row.U.Text = "not stated"
			}
			word, _, _ := strings.Cut(a.Say, ": ") // the rest stands below
			row.Verdict = t.dated(judged(a.Outcome, word), a.Channel)
			if row.Point == "" {
				row.Point = a.Point
			}
		}
		if row.Cold.Text == "" && r.Dead != nil {
			row.Cold.Note = lower(r.Dead.Say) + ", " + reading(*r.Dead).Text
		}
		for _, c := range []*cell{&row.Cold, &row.Live, &row.After} {
			if c.Text == "" {
				c.Text = "not measured"
			}
		}
		if row.U.Text == "" {
			row.U.Text = "\u2013"
		}
		out = append(out, row)
	}
	return out
}

// reading prints a figure, or what stood in its place.
func reading(r capture.Result) cell {
	c := cell{Bad: r.Outcome == capture.Fail}
	switch {
	case r.Flags.Has(capture.OverRange) && r.Quantity == capture.Resistance:
		c.Text = "over range"
	case r.Flags.Has(capture.NoValue):
		c.Text = "No reading"
	default:
		c.Text = fig(r.Quantity.Unit(), r.Value, r.Resolution)
	}
	switch {
	case r.Flags.Has(capture.ByEye):
		c.Note = "read by eye"
	case r.Flags.Has(capture.Typed):
		c.Note = "typed"
	case r.Flags.Has(capture.Held):
		c.Note = "display on hold"
	case r.Flags.Has(capture.LowBattery):
		c.Note = "low battery"
	case r.Outcome == capture.Fail:
		c.Note = failedAs(r)
	case r.Outcome == capture.NoData && strings.Contains(r.Say, "not steady"):
		c.Note = "not steady, not judged"
	case r.Outcome == capture.NoData:
		c.Note = "not judged"
	case r.N > 1:
		c.Note = "mean of " + whole(r.N)
	}
	return c
}

// beside adds what was read with the leads exchanged.
func (c *cell) beside(back *capture.Result) {
	if back == nil {
		return
	}
	if c.Note != "" {
		c.Note += ", "
	}
	c.Note += "reversed " + reading(*back).Text
}

// failedAs is the word below a figure that failed: what was said of it, where
// that is short, without the figure itself.
func failedAs(r capture.Result) string {
	say := lower(r.Say)
	if _, after, ok := strings.Cut(say, ": "); ok {
		say = after
	}
	if n := len([]rune(say)); n == 0 || n > 60 {
		return "failed"
	}
	return say
}

// railNotes says what a reader of the table may otherwise take for granted.
func (t teller) railNotes() []string {
	var out []string
	unstated, typed := false, false
	for _, r := range t.d.Rails {
		for _, a := range slices.Concat(r.Before, r.After) {
			typed = typed || a.Flags.Has(capture.Typed|capture.ByEye)
		}
		if a, ok := lastOf(r.After, capture.DCVoltage); ok {
			unstated = unstated || a.Uncertainty == 0
			if strings.Contains(a.Say, ": ") {
				out = append(out, named(r.Rail.Name)+": "+sentence(strings.Replace(lower(a.Say), ": ", ", ", 1)))
			}
		}
	}
	for _, r := range t.d.Rails {
		for _, say := range r.Trim {
			out = append(out, named(r.Rail.Name)+": "+sentence(strings.Replace(say, ": ", ", ", 1)))
		}
	}
	if unstated {
		out = append(out, "Where no uncertainty is stated the meter's accuracy is not known: the figure is indicated only.")
	}
	out = append(out, t.judgedAloud()...)
	if off := t.liftedLive(); off != "" {
		out = append(out, off)
	}
	if typed {
		out = append(out, "Readings that were typed or read by eye carry no coverage: nobody watched between them.")
	}
	return out
}
