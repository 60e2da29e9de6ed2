package web

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

func (v *view) jobSentence() (say, proof string) {
	if !v.HasJob {
		return "No job is open", v.instrumentsSentence()
	}
	sh := v.Job.Sheet
	say = sh.Job
	if sh.Set != "" {
		say += ", " + sh.Set
	}
	var s []string
	if sh.Symptom != "" {
		s = append(s, strings.TrimRight(sh.Symptom, ".")+".")
	}
	if sh.SerialNumber != "" {
		s = append(s, "Serial number "+sh.SerialNumber+".")
	}
	return say, strings.Join(s, " ")
}

// stageLine is a stage on the Job page with what happened in it.
type stageLine struct {
	Name, State, Time string
	Took              string
	Entries           []entryLine
	Left              int // earlier entries that are not listed
}

type entryLine struct {
	Time, Text string
	Note       bool
	File, Of   string // address of a picture or sound, and what it is of; "" when there is none
	Full       string // everything that is said of it
	Sound      bool
}

// entriesShown bounds what stands under one stage.
const entriesShown = 12

// Line lists the stages, each with its entries. A stage that was entered twice
// stands twice.
func (v *view) Line() []stageLine {
	var out []stageLine
	seen, gone := map[capture.Stage]bool{}, erased(v.Job.Entries)
	for i, s := range v.Job.Stages {
		l := stageLine{Name: capital(string(s.Stage)), State: "done", Time: v.short(s.From)}
		seen[s.Stage] = true
		last := i == len(v.Job.Stages)-1
		if last {
			l.State = "now"
		}
		if s.To != 0 {
			l.Took = spanText(s.To.Sub(s.From))
		}
		if why := v.cameHow(i); why != "" {
			l.Entries = append(l.Entries, entryLine{Text: why})
		}
		for _, e := range v.Job.Entries {
			if e.At >= s.From && (s.To == 0 || e.At < s.To) && !elsewhere(e) {
				line := entryLine{Time: v.clock(e.At), Text: e.Text, Note: e.Act.Verb == capture.ActNote}
				line.fileOf(v.Job.Sheet.Job, e, gone)
				l.Entries = append(l.Entries, line)
			}
		}
		if n := len(l.Entries) - entriesShown; n > 0 {
			l.Left, l.Entries = n, l.Entries[n:]
		}
		out = append(out, l)
	}
	passed := false
	for _, s := range capture.Stages() {
		passed = passed || s == v.Job.Stage
		if passed && !seen[s] {
			out = append(out, stageLine{Name: capital(string(s)), State: "ahead"})
		}
	}
	return out
}

// elsewhere reports an entry that stands in another place of the page.
func elsewhere(e capture.Entry) bool {
	return e.Text == "" || e.Act.Verb == capture.ActStage || e.Act.Verb == capture.ActIndication
}

// cameHow says what was skipped on the way into a stage or from where it was gone
// back to, and why.
func (v *view) cameHow(i int) string {
	now, order := v.Job.Stages[i], capture.Stages()
	to, from, was := slices.Index(order, now.Stage), -1, capture.Stage("")
	if i > 0 {
		was = v.Job.Stages[i-1].Stage
		from = slices.Index(order, was)
	}
	var skipped []string
	for k := from + 1; k < to; k++ {
		skipped = append(skipped, string(order[k]))
	}
	say := ""
	switch {
	case to < from:
		say = "Back from " + string(was)
	case len(skipped) > 0:
		say = "Skipped " + capture.Listed(skipped)
	}
	return strings.TrimPrefix(strings.TrimSuffix(say+": "+now.Reason, ": "), ": ")
}

// railRow is a rail in the table of the Job page.
type railRow struct {
	Name, Link, Ohms, Volts, PlusMinus, Bounds, Word, Mark, Tone string
	Turn                                                         int
}

// Rows is the table of rails.
func (v *view) Rows() []railRow {
	var out []railRow
	for i, rv := range v.Job.Rails {
		l := v.Lanes[i]
		r := railRow{Name: rv.Rail.Name, Link: l.Link, Bounds: bounds(rv.Rail, targetStep(rv)), Word: l.Word, Mark: l.Tone.Mark(), Tone: l.Tone.Class(), Turn: l.Tone.Turn()}
		if rv.Ohms != nil {
			judged, _ := judgedOhms(rv)
			r.Ohms = valueText(judged)
		}
		if v.snap.Present(rv.Volts) || byEye(rv.Volts) {
			r.Volts = valueText(rv.Volts.Reading)
		}
		if u := uncertaintyOf(rv); u > 0 && r.Volts != "" {
			r.PlusMinus = capture.Figure(u, max(uncertaintyStep(u), rv.Volts.Reading.Resolution))
		}
		out = append(out, r)
	}
	return out
}

// uncertaintyStep prints an uncertainty with two digits at most (GUM 7.2.6).
func uncertaintyStep(u float64) float64 {
	for step := 1e-6; ; step *= 10 {
		if u < 100*step {
			return step
		}
	}
}

// placementRow says where a channel is.
type placementRow struct {
	Channel, Title, Where, Reading, Age string
	Up                                  bool
}

// Placeable lists the channels of instruments: what was read by eye is filed
// under channels of its own, which nobody places.
func (v *view) Placeable() []capture.ChannelID {
	var out []capture.ChannelID
	for _, c := range v.snap.Channels {
		if _, ours := v.snap.Instrument(c.Info.ID.Instrument()); ours {
			out = append(out, c.Info.ID)
		}
	}
	return out
}

// Placements lists every channel of an instrument that serves the job.
func (v *view) Placements() []placementRow {
	on := map[capture.ChannelID]capture.Placement{}
	for _, rv := range v.Job.Rails {
		if rv.Live {
			on[rv.Placement.Channel] = rv.Placement
		}
	}
	for _, p := range v.Job.Points {
		on[p.Channel] = p.Placement
	}
	var out []placementRow
	for _, c := range v.snap.Channels {
		in, ours := v.snap.Instrument(c.Info.ID.Instrument())
		if c.Job != v.Job.Sheet.Job || !ours {
			continue
		}
		r := placementRow{Channel: string(c.Info.ID), Title: in.Info.Title, Where: whereWords(on[c.Info.ID]), Up: in.Up}
		if c.Last != nil {
			r.Reading, r.Age = valueText(c.Last.Reading), ageText(v.snap.Age(c.Last))
		}
		if !in.Up {
			r.Reading = "no link"
		}
		if c.Info.Group != "" && !c.Selected {
			r.Reading, r.Age = "not selected", ""
		}
		out = append(out, r)
	}
	return out
}

func whereWords(p capture.Placement) string {
	if p.Rail == "" && p.Point == "" {
		return "nowhere"
	}
	words := p.Rail
	if p.Point != "" {
		words = strings.TrimPrefix(words+" at "+p.Point, " at ")
	}
	if p.Return != "" {
		words += " against " + p.Return
	}
	return words + ", " + p.Hold.String()
}

// StageNames are the choices of the form.
func (v *view) StageNames() []capture.Stage { return capture.Stages() }

// Notes are the free lines, newest last.
func (v *view) Notes() []entryLine {
	var out []entryLine
	for _, e := range v.Job.Entries {
		if e.Act.Verb == capture.ActNote {
			out = append(out, entryLine{Time: v.when(e.At), Text: e.Text})
		}
	}
	if len(out) > 5 {
		out = out[len(out)-5:]
	}
	return out
}

// SoakRunning reports whether a soak is under way.
func (v *view) SoakRunning() bool { return v.Job.Soak != nil && v.Job.Soak.To == 0 }

// StageFigure is the large word about the stage, under the lanes.
func (v *view) StageFigure() string {
	if v.SoakRunning() && v.Job.Soak.Planned > 0 {
		end := v.Job.Soak.From + capture.Instant(v.Job.Soak.Planned*1e6)
		if end > v.snap.Now {
			return "Soak ends " + end.Time().In(v.zone).Format("15:04")
		}
		return "Soak time reached"
	}
	return capital(string(v.Job.Stage))
}

// StageNote stands under it.
func (v *view) StageNote() string {
	if v.Job.Soak != nil {
		return v.soakSentence(*v.Job.Soak)
	}
	return "Since " + v.when(v.Job.StageSince) + "."
}
