package app

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
	"steadyrail/rules/kind"
)

// doubt asks about an entry that is hardly meant as it was typed: a value of
// another rail, a wrong scale, one that a meter has just read otherwise or that the
// stage has not, a meter's name that is nearly a known one. Who is sure is not asked.
func (a *App) doubt(id string, j *openJob, t dashboards.Typed, rail capture.Rail, r capture.Reading) error {
	if t.Sure {
		return nil
	}
	var d *dashboards.Doubt
	for _, also := range []*dashboards.Doubt{a.doubtMeter(j, t), doubtValue(j.book.Sheet(), t, rail, r), a.doubtState(j, t, rail, r)} {
		switch {
		case d == nil:
			d = also
		case also != nil:
			d.Question += " And " + also.Question // who is sure is sure of all
			d.State = d.State || also.State
		}
	}
	if d == nil {
		return nil
	}
	kind := dashboards.Invalid
	if d.State {
		kind = dashboards.Conflict
	}
	var ways []string
	for _, c := range d.Choices {
		ways = append(ways, enterLine(id, j.book.Sheet(), c.Typed)+" ("+c.Label+")")
	}
	return &dashboards.Error{Kind: kind, Detail: "nothing was entered", Err: d, Hint: "type what was meant: " + strings.Join(ways, ", or ")}
}

// doubtMeter asks about a name that is nearly one of the configuration. One that
// was confirmed once in the job is known.
func (a *App) doubtMeter(j *openJob, t dashboards.Typed) *dashboards.Doubt {
	if t.Meter == "" {
		return nil
	}
	if _, used := j.book.Roster().Instrument(capture.ByEyeName(t.Meter)); used {
		return nil
	}
	var known []string
	for _, h := range a.config().Handhelds {
		known = append(known, h.Name)
	}
	for _, in := range a.o.Config.Instruments {
		known = append(known, in.Name)
	}
	name := capture.Misspelt(t.Meter, known)
	if name == "" {
		return nil
	}
	meant, sure := t, t
	meant.Meter, sure.Sure = name, true
	return &dashboards.Doubt{
		Question: fmt.Sprintf("no meter is called %s: did you mean %s?", t.Meter, name),
		Choices:  []dashboards.Choice{{Label: "from " + name, Typed: meant}, {Label: "from " + t.Meter + ", another meter", Typed: sure}},
	}
}

// doubtValue asks about a voltage that the rail hardly has; nil: it may have it.
func doubtValue(s capture.Sheet, t dashboards.Typed, rail capture.Rail, r capture.Reading) *dashboards.Doubt {
	if r.Quantity != capture.DCVoltage || !r.HasValue() {
		return nil
	}
	u, is := s.Unlikely(rail, r.Value, r.Resolution)
	if !is {
		return nil
	}
	var d dashboards.Doubt
	meant, sure := t, t
	sure.Sure = true
	switch {
	case u.Rail != 0:
		other := s.Rails[u.Rail-1]
		meant.Rail, meant.Point = other.Name, ""
		d.Question = fmt.Sprintf("%s: is it %s (%d)?", u.Why, other.Name, u.Rail)
		d.Choices = []dashboards.Choice{{Label: shown(r) + " on " + other.Name, Typed: meant}}
	case u.Shift != 0:
		v, res := scaled(r, u.Shift)
		meant.Text = typedText(v, res) + " V"
		d.Question = fmt.Sprintf("%s: is it %s?", u.Why, capture.Volt.Text(v, res))
		d.Choices = []dashboards.Choice{{Label: capture.Volt.Text(v, res) + " on " + rail.Name, Typed: meant}}
	default:
		d.Question = u.Why + ": is that what the display says?"
	}
	d.Choices = append(d.Choices, dashboards.Choice{Label: shown(r) + " on " + rail.Name + ", it is so", Typed: sure})
	return &d
}

// scaled moves the decimal mark of a reading by three places, exactly.
func scaled(r capture.Reading, shift int) (v, resolution float64) {
	if shift < 0 {
		return r.Value / 1000, r.Resolution / 1000
	}
	return r.Value * 1000, r.Resolution * 1000
}

// enterLine spells the command that enters a value, with the rail's number.
func enterLine(id string, s capture.Sheet, t dashboards.Typed) string {
	rail := t.Rail
	if r, err := s.FindRail(t.Rail); err == nil {
		rail = strconv.Itoa(1 + slices.IndexFunc(s.Rails, func(o capture.Rail) bool { return o.Name == r.Name }))
	}
	words := []string{"steadyrail", "enter", rail, t.Text}
	for _, flag := range [][2]string{{"--meter", t.Meter}, {"--point", t.Point}, {"--job", id}} {
		if flag[1] != "" {
			words = append(words, flag[:]...)
		}
	}
	for i, w := range words {
		if strings.ContainsAny(w, " '\"") {
			words[i] = strconv.Quote(w)
		}
	}
	if t.Sure {
		words = append(words, "--sure")
	}
	return strings.Join(words, " ")
}

// judgedAs is the rail's word about a value read by eye, as a sentence to stand
// behind another; empty when no rule judges it. A rule that does not judge now,
// for the set is cold, leaves the word to the figure: it is the one that a list
// of the job will show.
func (a *App) judgedAs(j *openJob, rail capture.Rail, at capture.Instant, r capture.Reading) string {
	v, ok := JudgeTyped(j.book, rail, r)
	if shown, found := a.table.Snapshot().Job(j.id); found {
		for _, view := range shown.Rails {
			for _, now := range view.Verdicts {
				if view.Rail.Name == rail.Name && now.Kind == judgeOf[r.Quantity] && now.Channel == r.Channel && now.To == at && now.Say != "" && (now.Outcome != capture.NoData || !ok) {
					v, ok = now, true
				}
			}
		}
	}
	if !ok {
		return ""
	}
	return " " + TypedWord(v) + "."
}

// judgeOf is the kind of rule that judges a quantity.
var judgeOf = map[capture.Quantity]string{capture.DCVoltage: "band", capture.Resistance: "short"}

// JudgeTyped judges a voltage read by eye against the bounds of a rail, as the
// band's rule does, and reports whether there is anything to judge.
func JudgeTyped(b *job.Book, rail capture.Rail, r capture.Reading) (capture.Verdict, bool) {
	if r.Quantity != capture.DCVoltage || !r.HasValue() || !r.Good() {
		return capture.Verdict{}, false
	}
	info, known := b.Roster().Channel(r.Channel)
	if !known {
		info = capture.ChannelInfo{ID: r.Channel, Quantity: r.Quantity}
	}
	return kind.Mean(info, rail, []capture.Reading{r}), true
}

// TypedWord is a verdict's word about a value read by eye, and that it is
// indicated only when no accuracy is known for it: the meter is not described,
// or not at such a value.
func TypedWord(v capture.Verdict) string {
	word := cmp.Or(v.Say, v.Outcome.Word())
	if v.Indicated && v.Outcome != capture.NoData {
		word += ", indicated only: no accuracy is known for it"
	}
	return word
}
