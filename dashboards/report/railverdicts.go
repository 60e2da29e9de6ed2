package report

import (
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

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
