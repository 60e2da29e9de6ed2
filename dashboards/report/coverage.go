package report

import (
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// coverageView says what a record of one rail can say, and what it cannot.
type coverageView struct {
	Rail                               string
	None                               bool // no reading at all
	Looked, Every, Blind, Sure, Chance cell
}

func (t teller) coverage() []coverageView {
	var out []coverageView
	for _, r := range t.d.Rails {
		for _, w := range r.Watches {
			v := t.watched(w)
			// Rails that were watched alike are said once.
			if i := slices.IndexFunc(out, func(o coverageView) bool { o.Rail = ""; return o == v }); i >= 0 {
				out[i].Rail += ", " + named(r.Rail.Name)
				continue
			}
			v.Rail = named(r.Rail.Name)
			out = append(out, v)
		}
	}
	return out
}

// alike takes a note out of the cells where all rails have the same: it is told
// once, below the table.
func alike(views []coverageView, of func(*coverageView) *cell) string {
	note := ""
	for i := range views {
		n := of(&views[i]).Note
		if views[i].None || i > 0 && n != note {
			return ""
		}
		note = n
	}
	for i := range views {
		of(&views[i]).Note = ""
	}
	return note
}

// coverageNote says what holds for all rails alike, and what no record of this
// kind can exclude.
func coverageNote(views []coverageView) string {
	var parts []string
	for _, c := range []struct {
		before string
		of     func(*coverageView) *cell
	}{
		{"the share looked at is ", func(v *coverageView) *cell { return &v.Looked }},
		{"a dip of that length was sure to be seen ", func(v *coverageView) *cell { return &v.Sure }},
		{"the chances are ", func(v *coverageView) *cell { return &v.Chance }},
	} {
		if note := alike(views, c.of); note != "" {
			parts = append(parts, c.before+note)
		}
	}
	const always = "A shorter dip can fall between two readings: this record cannot exclude it."
	if len(parts) == 0 {
		return always
	}
	return capital(sentence(strings.Join(parts, "; "))) + " " + always
}

func (t teller) watched(w capture.Watch) coverageView {
	if w.N == 0 {
		return coverageView{None: true}
	}
	v := coverageView{Looked: cell{Text: "not known", Note: "aperture not stated"}, Every: cell{Text: "\u2013"}, Blind: cell{Text: "\u2013"}, Sure: cell{Text: "none"}}
	if w.Observed > 0 {
		v.Looked = cell{Text: percent(w.Observed), Note: "of " + span(w.To.Sub(w.From))}
		if w.Aperture > 0 {
			v.Looked.Note += ", " + span(w.Aperture) + " at a time"
		}
	}
	if w.Interval > 0 {
		v.Every.Text = span(w.Interval)
		if w.Answered > 0 {
			v.Every.Note = "in " + percent(w.Answered) + " of intervals"
		}
	}
	if w.LongestGap > 0 {
		v.Blind = cell{Text: span(w.LongestGap), Note: t.short(w.GapAt)}
	}
	if w.SureDip > 0 {
		v.Sure.Text = span(w.SureDip) + " or longer"
	}
	if w.DipDepth > 0 {
		v.Sure.Note = "where it is " + strconv.FormatFloat(w.DipDepth*100, 'f', -1, 64) + nbsp + "% deep"
	}
	var seen, lengths []string
	for _, c := range w.Chance {
		seen, lengths = append(seen, percent(c.Seen)), append(lengths, span(c.Length))
	}
	if len(seen) > 0 {
		v.Chance = cell{Text: strings.Join(seen, ", "), Note: "for " + capture.Listed(lengths)}
	}
	return v
}

type soakView struct {
	When    string
	Facts   []pair
	Say     []string
	Verdict verdict
	Worst   []minuteRow
}

func (t teller) soak() *soakView {
	s := t.d.Soak
	if s == nil {
		return nil
	}
	v := &soakView{When: t.between(s.From, s.To), Verdict: judged(capture.Pass, "Passed")}
	if !s.Passed || s.Failures > 0 {
		v.Verdict = judged(capture.Fail, "Not passed")
	}
	planned := "open end"
	if s.Planned > 0 {
		planned = span(s.Planned)
	}
	v.Facts = []pair{{"Planned", planned}, {"Watched", span(s.Watched)}, {"In one piece", pieces(s.Pieces)}, {"Failures", whole(s.Failures)}}
	if len(s.Parts) > 1 && s.Watched > 0 {
		v.Facts = append(v.Facts, pair{"Watched without a break", t.parts(s.Parts)})
	}
	if s.Off > 0 {
		v.Facts = append(v.Facts, pair{"Power off as planned", span(s.Off) + ", besides"})
	}
	if s.Watched <= 0 {
		v.Facts = []pair{{"Planned", planned}, {"Watched", "not watched"}}
		v.Verdict = judged(capture.NoData, "Not judged")
		if s.Failures > 0 {
			v.Facts, v.Verdict = append(v.Facts, pair{"Falls seen all the same", whole(s.Failures)}), judged(capture.Fail, "Not passed")
		}
	}
	v.Worst = t.worstMinutes()
	for _, line := range s.Say {
		v.Say = append(v.Say, sentence(line))
	}
	return v
}

// partsShown bounds how many pieces of a soak are listed.
const partsShown = 8

// parts lists the pieces that a soak was watched in.
func (t teller) parts(of []capture.SoakPart) string {
	var out []string
	for i, p := range of {
		if i == partsShown {
			out = append(out, count(len(of)-partsShown, "further one", "further ones"))
			break
		}
		long := span(p.Long())
		if p.Idle > 0 {
			long += ", without " + span(p.Idle) + " off"
		}
		out = append(out, t.short(p.From)+" to "+t.short(p.To)+" ("+long+")")
	}
	return capture.Listed(out)
}

func pieces(n int) string {
	if n <= 1 {
		return "yes"
	}
	return "no, in " + whole(n)
}
