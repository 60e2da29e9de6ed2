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
	Fell             []fell // of the rails of a supply that was found off
	Followed         []followed
}

// followed is an alarm that nobody was told of, in one line: another explained
// it, or a person had muted it.
type followed struct{ When, Say, Length, Why string }

// alarms tells each alarm that somebody was told of or that stands, and below it
// what followed from it. What followed from none of these comes last.
func (t teller) alarms() (out []alarmView, untold []followed, err error) {
	at := map[int]int{} // views by the alarm's index
	for i, a := range t.d.Alarms {
		if quiet(a) || t.trip(a) >= 0 {
			continue
		}
		v := alarmView{Say: sentence(capture.TrueMinus(a.Say)), When: t.moment(a.Raised), Verdict: judged(capture.Pass, "Over")}
		if a.Standing() {
			v.Verdict = judged(capture.Fail, "Stands open")
		}
		v.Facts = t.alarmFacts(a)
		said := a.Say
		for _, tr := range a.Transitions {
			who := tr.By
			if tr.Muted != "" && tr.By == "" {
				who = "nobody told: " + capture.TrueMinus(tr.Muted)
			}
			v.Steps = append(v.Steps, step{t.fine(tr.At), stateWords(tr, said), who})
			said = tr.Say
		}
		if v.Figure, err = t.around(a, i); err != nil {
			return nil, nil, err
		}
		at[i] = len(out)
		out = append(out, v)
	}
	for i, a := range t.d.Alarms {
		if n, ok := at[t.trip(a)]; ok {
			out[n].Fell = append(out[n].Fell, t.carried(a))
			continue
		}
		if !quiet(a) {
			continue
		}
		f := followed{t.fine(a.Raised), sentence(capture.TrueMinus(a.Say)), span(a.Cleared.Sub(a.Raised)), capture.TrueMinus(a.Untold())}
		if n, ok := at[t.root(i)]; ok {
			out[n].Followed = append(out[n].Followed, f)
			continue
		}
		untold = append(untold, f)
	}
	return out, untold, nil
}

// quiet reports whether an alarm is over that nobody was told of.
func quiet(a capture.AlarmStory) bool { return a.Untold() != "" && !a.Standing() }

// root finds the alarm that somebody was told of and that explains one that
// nobody was, or that follows from a supply's trip: -1 when the record names none.
func (t teller) root(i int) int {
	for range t.d.Alarms {
		a := t.d.Alarms[i]
		trip := t.trip(a)
		if trip < 0 && !quiet(a) {
			return i
		}
		if trip < 0 {
			trip = t.cause(i, a)
		}
		if i = trip; i < 0 {
			return -1
		}
	}
	return -1
}

// So near must cause and consequence lie: rails are read one after the other.
const near = 3 * time.Second

// cause finds the newest alarm that is named as the reason why nobody was told
// of this one.
func (t teller) cause(self int, a capture.AlarmStory) int {
	why := a.Untold()
	kind, same := strings.CutPrefix(strings.TrimSuffix(why, " already"), "told as ")
	feeder, fed := strings.CutSuffix(why, " feeds it")
	found := -1
	for i, o := range t.d.Alarms {
		named := same && o.Rail == a.Rail && o.Kind == kind || fed && o.Rail == feeder && (o.Kind == "collapse" || o.Kind == "missing")
		apart := o.Raised.Sub(a.Raised) > near || !o.Cleared.IsZero() && a.Raised.Sub(o.Cleared) > near
		if i == self || !named || apart {
			continue
		}
		if found < 0 || quiet(t.d.Alarms[found]) {
			found = i
		}
	}
	return found
}

// inVolts reports whether an alarm's readings can be held against the rail's
// band and drawn in it: those of a short are ohms.
func (t teller) inVolts(a capture.AlarmStory) bool {
	if len(a.Transitions) > 0 {
		if c, ok := t.d.Roster.Channel(a.Transitions[0].Channel); ok {
			return c.Quantity == capture.DCVoltage
		}
	}
	return a.Kind != "short" && a.Kind != "limiting"
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
	if _, of := t.onOutput(a.Rule); of || !ok || len(a.Around) == 0 || !t.inVolts(a) {
		return nil, nil
	}
	var b strings.Builder
	err := chart.Event(&b, chart.EventModel{
		ID: "alarm" + strconv.Itoa(i), Title: a.Say, Rail: r, Points: a.Around, Resolution: r.DistanceResolution(t.resolution(a.Rail)), Zone: t.o.Zone, Width: 330, Height: 150, Text: 10.5,
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
