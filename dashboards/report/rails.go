package report

import (
	"slices"
	"strings"
	"time"

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

type verdictRow struct {
	Rule, Rail, Value, U, Over string
	Verdict                    verdict
	Indicated                  bool
}

// verdicts lists what was judged. What is said of several rails alike, and
// without a figure, is said once.
func (t teller) verdicts() []verdictRow {
	var out []verdictRow
	for _, r := range t.d.Rails {
		for _, v := range r.Verdicts {
			row := t.verdict(r.Rail, v)
			alike := func(o verdictRow) bool { o.Rail = row.Rail; return o == row }
			if i := slices.IndexFunc(out, alike); row.Value == "" && i >= 0 {
				out[i].Rail += ", " + row.Rail
				continue
			}
			out = append(out, row)
		}
	}
	for i := range out {
		out[i].Rail = t.allRails(out[i].Rail)
	}
	out = append(out, t.outputRows()...)
	// By rule, in the order in which the first rail has them.
	var order []string
	for _, row := range out {
		if !slices.Contains(order, row.Rule) {
			order = append(order, row.Rule)
		}
	}
	slices.SortStableFunc(out, func(a, b verdictRow) int { return slices.Index(order, a.Rule) - slices.Index(order, b.Rule) })
	return out
}

func (t teller) verdict(r capture.Rail, v capture.Verdict) verdictRow {
	u := unitOf(v.Unit)
	row := verdictRow{Rule: t.ruleName(v), Rail: named(r.Name), Indicated: v.Indicated}
	say := v.Say
	if v.N > 0 && v.Outcome != capture.NoData {
		row.Value, row.U = fig(u, v.Value, v.Resolution), spread(u, v.Uncertainty, v.Resolution)
		row.Over = tied(count(v.N, "reading", "readings"))
		if d := v.To.Sub(v.From); !v.From.IsZero() && d > time.Second {
			row.Over += tied(" over " + span(d))
		}
		say = capital(without(say, row.Value))
	}
	if v.Kind == "missing" && v.Outcome == capture.Pass {
		row.Value, row.U, row.Over = "", "", "" // how much of it is there is told by its band
	}
	if v.Held.Since != 0 {
		say += ", " + v.Held.When(t.o.Zone)
	}
	row.Verdict = judged(v.Outcome, say)
	if v.Outcome != capture.NoData {
		row.Verdict = t.dated(row.Verdict, v.Channel)
	}
	return row
}

// dated says with a verdict that its meter's calibration is overdue: it is in
// doubt then, unless it failed.
func (t teller) dated(v verdict, ch capture.ChannelID) verdict {
	for _, in := range t.d.Roster.Instruments {
		if in.Name != ch.Instrument() {
			continue
		}
		if _, overdue := t.calibration(in); overdue {
			v.Word += " (indicated, calibration overdue)"
			if v.Mark == "inside" {
				v.Mark = "doubt"
			}
		}
	}
	return v
}

// allRails shortens a list that names every rail of the job.
func (t teller) allRails(list string) string {
	var all []string
	for _, r := range t.d.Sheet.Rails {
		all = append(all, named(r.Name))
	}
	if len(all) > 2 && list == strings.Join(all, ", ") {
		return tied("all " + number(len(all)) + " rails")
	}
	return list
}

// without leaves a figure out that stands in the column beside: "Is there:
// 4.993 V" to "Is there".
func without(say, figure string) string {
	for _, f := range []string{figure, strings.ReplaceAll(figure, nbsp, " ")} {
		if short := strings.TrimPrefix(strings.TrimSuffix(say, ": "+f), f+": "); short != say {
			return short
		}
	}
	return say
}

// ruleName leaves the rail out of a rule's name: the row begins with it.
func (t teller) ruleName(v capture.Verdict) string {
	if v.Kind != "" && (v.Rule == v.Kind+" "+v.Rail || v.Rule == "") {
		return v.Kind
	}
	return v.Rule
}
