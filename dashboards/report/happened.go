package report

import (
	"slices"
	"time"

	"steadyrail/capture"
)

// minuteRow is the worst minute of a rail in the soak.
type minuteRow struct {
	Rail, Channel, Mean, U, Band, At string
	Judged                           cell
	Verdict                          verdict
}

// worstMinutes lists the figure of the soak for each rail that has one.
func (t teller) worstMinutes() (out []minuteRow) {
	for _, r := range t.d.Rails {
		f := r.Soak
		if f == nil {
			continue
		}
		row := minuteRow{
			Rail: named(r.Rail.Name), Channel: string(f.Channel), Mean: fig(capture.Volt, f.Value, f.Resolution), U: spread(capture.Volt, f.Uncertainty, f.Resolution),
			Band: bandText(r.Rail), At: t.short(f.At), Judged: cell{Text: whole(f.Windows)}, Verdict: judged(f.Outcome, ""),
		}
		if row.U == "" {
			row.U = "not stated"
		}
		if f.Inside < f.Windows {
			row.Judged.Note = whole(f.Inside) + " inside, " + whole(f.Outside) + " outside"
		}
		out = append(out, row)
	}
	return out
}

// tripSoon is how soon after an alarm what a trip did is taken for its doing.
const tripSoon = 30 * time.Second

// tripFact says what the trip did that an alarm began; "" when there was none.
func (t teller) tripFact(a capture.AlarmStory) string {
	for _, e := range t.d.Entries {
		ours := slices.ContainsFunc(t.d.Rules.Rules, func(r capture.Rule) bool {
			return r.Name == a.Rule && r.Trip != "" && r.Trip == e.Act.Subject
		})
		if !ours || e.Act.By != capture.ByTrip || e.At < a.Raised || e.At.Sub(a.Raised) > tripSoon {
			continue
		}
		switch {
		case e.Act.Tripped():
			return "The trip switched " + e.Act.Subject + " off, read back " + capture.Second.Text(e.Act.Value, 0.001) + " after the reading."
		case e.Act.Verb == capture.ActOutput && e.Act.Text == "not confirmed off":
			return "The trip of " + e.Act.Subject + " was NOT confirmed."
		}
	}
	return ""
}
