package report

import (
	"html/template"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards/chart"
)

type figureView struct {
	SVG     template.HTML // from dashboards/chart, which escapes all text
	Caption string
	Tall    bool
}

type step struct{ When, State, Who string }

type alarmView struct {
	Say, When, State string
	Verdict          verdict
	Facts            []string
	Steps            []step
	Figure           *figureView
}

func (t teller) alarms() ([]alarmView, error) {
	var out []alarmView
	for i, a := range t.d.Alarms {
		v := alarmView{Say: sentence(a.Say), When: t.moment(a.Raised), Verdict: judged(capture.Pass, "Over")}
		if standing(a) {
			v.Verdict = judged(capture.Fail, "Stands open")
		}
		v.Facts = t.alarmFacts(a)
		for _, tr := range a.Transitions {
			who := tr.By
			if tr.Muted != "" {
				who = strings.TrimPrefix(who+"; nobody told: "+tr.Muted, "; ")
			}
			v.Steps = append(v.Steps, step{t.fine(tr.At), stateWords(tr), who})
		}
		fig, err := t.around(a, i)
		if err != nil {
			return nil, err
		}
		v.Figure = fig
		out = append(out, v)
	}
	return out, nil
}

// stateWords says a step in the life of an alarm in plain words.
func stateWords(tr capture.Transition) string {
	switch tr.To {
	case capture.Active:
		return "raised"
	case capture.Heard:
		return "heard"
	case capture.Returned:
		return "went away unheard"
	case capture.Latched:
		return "went away, stays until reset"
	case capture.LatchedHeard:
		return "heard, stays until reset"
	}
	return "over"
}

func (t teller) alarmFacts(a capture.AlarmStory) []string {
	var out []string
	if a.Cleared.IsZero() {
		out = append(out, "The condition was still there when the record ended.")
	} else {
		out = append(out, "The condition was gone "+span(a.Cleared.Sub(a.Raised))+" later.")
	}
	if r, ok := t.d.Sheet.Rail(a.Rail); ok {
		if low, high, n := lasted(r, a.Around); n > 0 {
			s := count(n, "reading", "readings") + " outside the band"
			if high > 0 {
				s += ", so it lasted between " + span(low) + " (first to last of them) and " + span(high) + " (last inside before to first inside after)"
			}
			out = append(out, capital(s)+".")
		}
	}
	if a.Heard.IsZero() {
		out = append(out, "Nobody has said that it was heard.")
	}
	return out
}

// lasted bounds the length of a fall by the readings around it: from the first
// to the last outside at the least, from the last inside before to the first
// inside after at the most. high is 0 when one of these is missing.
func lasted(r capture.Rail, around []capture.Point2) (low, high time.Duration, n int) {
	var first, last, before, after capture.Instant
	for _, p := range around {
		switch {
		case !p.Good:
		case !r.Bounds.Contains(p.Value):
			if n == 0 {
				first = p.At
			}
			last, after = p.At, 0
			n++
		case n == 0:
			before = p.At
		case after == 0:
			after = p.At
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	if before != 0 && after != 0 {
		high = after.Sub(before)
	}
	return last.Sub(first), high, n
}

// around draws the readings about an alarm, if any were kept.
func (t teller) around(a capture.AlarmStory, i int) (*figureView, error) {
	r, ok := t.d.Sheet.Rail(a.Rail)
	if !ok || len(a.Around) == 0 {
		return nil, nil
	}
	var b strings.Builder
	err := chart.Event(&b, chart.EventModel{
		ID: "alarm" + strconv.Itoa(i), Title: a.Say, Rail: r, Points: a.Around, Resolution: t.resolution(a.Rail), Zone: t.o.Zone, Width: 330, Height: 150, Text: 10.5,
	})
	return &figureView{SVG: template.HTML(b.String())}, err
}

// resolution is the finest that a rail was watched with.
func (t teller) resolution(rail string) float64 {
	res := 0.0
	for _, r := range t.d.Rails {
		if r.Rail.Name != rail {
			continue
		}
		for _, w := range r.Watches {
			if w.Resolution > 0 && (res == 0 || w.Resolution < res) {
				res = w.Resolution
			}
		}
	}
	return res
}
