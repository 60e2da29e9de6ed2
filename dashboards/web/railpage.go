package web

import (
	"html/template"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/chart"
)

// Spans are the lengths of history the Rail page offers: its address, its
// words and its length; a length of 0 is the whole job.
var Spans = []struct {
	Key, Words string
	Length     time.Duration
}{
	{"10m", "10 min", 10 * time.Minute},
	{"1h", "1 h", time.Hour},
	{"8h", "8 h", 8 * time.Hour},
	{"all", "whole job", 0},
}

// railPage is one rail, large.
type railPage struct {
	lane
	What, Then string        // the order: "0.12 V low:", "turn up"
	Upright    int           // how far its wedge is turned
	Chart      template.HTML // for wide windows
	Slim       template.HTML // the same for a phone: letters do not shrink with it
	Ohms       string
	OhmsNote   string
	Target     string
	Bounds     string
	Feeds      string
	Mean       string
	MeanNote   string
	Verdicts   []verdictLine
	Cautions   []string // beside a trip
	Picker     []pick
	Spans      []pick
}

// spanQuery stays with a job that is not the one opened last.
func spanQuery(job, span string) string {
	q := url.Values{"span": {span}}
	if job != "" {
		q.Set("job", job)
	}
	return "?" + q.Encode()
}

type pick struct {
	Name, Link string
	Here       bool
	Tone       tone
}

type verdictLine struct {
	Kind, Say, Mark, Tone, Note string
}

func (v *view) railPage() {
	rv, ok := v.findRail()
	if !ok {
		v.Say, v.Proof = "No such rail", "The job in hand has no rail of that name."
		if !v.HasJob {
			v.Say, v.Proof = "No job is open", v.instrumentsSentence()
		}
		return
	}
	p := &railPage{lane: v.lane(rv), Target: withUnit(capture.Figure(rv.Rail.Target, targetStep(rv)), "V"), Bounds: bounds(rv.Rail, targetStep(rv))}
	v.Rail = p
	v.Say = together(rv.Rail.Name) + ": " + lowerFirst(p.Word)
	v.Proof = p.More
	if p.Number != nil && p.Tone != nowhere && p.Band != nil && rv.Volts.Reading.Good() {
		p.What, p.Then = order(rv.Rail, rv.Volts.Reading.Value, uncertaintyOf(rv), rv.Volts.Reading.Resolution)
		p.Upright = map[tone]int{low: -90, high: 90}[p.Tone]
	}
	p.ohms(v, rv)
	p.feeds(rv.Rail)
	p.mean(rv)
	for _, ver := range rv.Verdicts {
		p.Verdicts = append(p.Verdicts, v.verdictOf(ver))
	}
	p.Cautions = tripCautions(rv.Verdicts)
	for _, l := range v.Lanes {
		p.Picker = append(p.Picker, pick{Name: l.Name, Link: l.Link, Here: l.Name == p.Name, Tone: l.Tone})
	}
	for _, s := range Spans {
		p.Spans = append(p.Spans, pick{Name: s.Words, Link: "/rail/" + url.PathEscape(p.Name) + spanQuery(v.Model.Job, s.Key), Here: s.Key == v.Span})
	}
	p.Chart, p.Slim = v.history(rv)
}

func (v *view) findRail() (live.RailView, bool) {
	for _, rv := range v.Job.Rails {
		if rv.Rail.Name == v.Model.Rail {
			return rv, true
		}
	}
	return live.RailView{}, false
}

func (p *railPage) ohms(v *view, rv live.RailView) {
	p.Ohms, p.OhmsNote = "Not measured", "short below "+plainOhms(rv.Rail.ShortBelow)
	if rv.Ohms == nil {
		return
	}
	r, leads := judgedOhms(rv)
	p.Ohms = valueText(r)
	if leads == "" && r.HasValue() && r.Resolution < 1 { // digits that show what leads have
		leads = "the leads in it"
	}
	p.OhmsNote = joined(joined(p.OhmsNote, leads), v.when(rv.Ohms.At))
}

func (p *railPage) feeds(r capture.Rail) {
	var s []string
	if r.FedFrom != "" {
		s = append(s, "Fed from "+r.FedFrom+".")
	}
	if len(r.Feeds) > 0 {
		s = append(s, "Feeds "+capture.Listed(r.Feeds)+".")
	}
	p.Feeds = strings.Join(s, " ")
}

// mean says what the last ten minutes were; the spread stands beside it.
func (p *railPage) mean(rv live.RailView) {
	n, sum := 0, 0.0
	lo, hi := 0.0, 0.0
	for _, b := range rv.Trace {
		if b.N == 0 {
			continue
		}
		if n == 0 {
			lo, hi = b.Min, b.Max
		}
		n, sum = n+b.N, sum+b.Mean*float64(b.N)
		lo, hi = min(lo, b.Min), max(hi, b.Max)
	}
	if n == 0 || rv.Volts == nil {
		p.Mean, p.MeanNote = "None", "no reading in the last 10"+nbsp+"min"
		return
	}
	res := rv.Volts.Reading.Resolution
	p.Mean = capture.Figure(sum/float64(n), res)
	p.MeanNote = "least " + capture.Figure(lo, res) + ", greatest " + capture.Figure(hi, res) + nbsp + "V"
}

func verdictOf(ver capture.Verdict) verdictLine {
	l := verdictLine{Kind: ver.Kind, Say: ver.Say, Mark: "m-silent", Tone: "is-silent"}
	switch ver.Outcome {
	case capture.Pass:
		l.Mark, l.Tone = "m-inside", "is-inside"
	case capture.ConditionalPass, capture.ConditionalFail:
		l.Mark, l.Tone = "m-doubt", "is-doubt"
	case capture.Fail:
		l.Mark, l.Tone = "m-alarm", "is-outside"
	}
	if l.Say == "" {
		l.Say = capital(ver.Outcome.Word())
	}
	l.Note = verdictNote(ver)
	return l
}

// verdictOf tells with a verdict what was decided before it, where it can say
// nothing.
func (v *view) verdictOf(ver capture.Verdict) verdictLine {
	l := verdictOf(ver)
	if held := ver.Held.Text(v.zone); held != "" {
		l.Say += ". " + capital(held)
	}
	return l
}

// verdictNote says what a verdict rests on besides its readings, the gravest
// first.
func verdictNote(ver capture.Verdict) string {
	var notes []string
	if ver.Indicated {
		notes = append(notes, "indicated only: no accuracy stated")
	}
	if ver.Overdue {
		notes = append(notes, "indicated, calibration overdue")
	}
	if ver.Note != "" {
		notes = append(notes, ver.Note)
	}
	return strings.Join(notes, "; ")
}

// history draws the span that was asked for, with alarms and notes.
func (v *view) history(rv live.RailView) (broad, slim template.HTML) {
	series, from, to := v.History, v.From, v.To
	if len(series) == 0 {
		series, from, to = rv.Trace, v.snap.Now.Add(-traceSpan), v.snap.Now
	}
	m := chart.RailModel{ID: "history", Rail: rv.Rail, Series: series, From: from, To: to, Zone: v.zone, Width: 1360, Height: 300}
	if rv.Volts != nil {
		m.Resolution = rv.Volts.Reading.Resolution
	}
	for _, t := range append(append([]capture.Transition{}, v.Job.Past...), v.Job.Alarms...) {
		if t.Rail == rv.Rail.Name && t.Raised >= from && t.Raised <= to {
			m.Marks = append(m.Marks, chart.Mark{At: t.Raised, Kind: chart.Alarm, Word: t.Kind + " " + v.clock(t.Raised)})
		}
	}
	for _, e := range v.Job.Entries {
		if e.Act.Verb == capture.ActNote && e.At >= from && e.At <= to {
			m.Marks = append(m.Marks, chart.Mark{At: e.At, Kind: chart.Note, Word: e.Text})
		}
	}
	cold, fell := v.cold(rv.Rail)
	m.Cold, m.Fell = coldSpans(cold), fell
	small := m
	small.ID, small.Width, small.Height = "history-slim", 380, 240
	return draw(m), draw(small)
}

func draw(m chart.RailModel) template.HTML {
	var b strings.Builder
	_ = chart.Rail(&b, m)            // a strings.Builder does not fail
	return template.HTML(b.String()) // chart escapes all text
}

// targetStep is the resolution that targets and edges are printed with: the
// meter's, or a thousandth of a volt when nothing was read yet.
func targetStep(rv live.RailView) float64 {
	if rv.Volts != nil && rv.Volts.Reading.Resolution > 0 {
		return max(rv.Volts.Reading.Resolution, 0.001)
	}
	return 0.001
}

func lowerFirst(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToLower(s[:n]) + s[n:]
}
