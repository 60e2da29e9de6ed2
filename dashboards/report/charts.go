package report

import (
	"html/template"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/chart"
)

// charts draws the watched span of every rail; the rail that had most trouble
// first and larger, with the temperature below it.
func (t teller) charts() ([]figureView, error) {
	var out []figureView
	main := t.mainRail()
	order := []int{}
	if main >= 0 {
		order = append(order, main)
	}
	for i := range t.d.Rails {
		if i != main {
			order = append(order, i)
		}
	}
	for _, i := range order {
		r := t.d.Rails[i]
		if !anyReadings(r.Series) {
			continue
		}
		fig, err := t.railChart(r, i, i == main)
		if err != nil {
			return nil, err
		}
		out = append(out, fig)
	}
	return out, nil
}

func anyReadings(series []capture.Bucket) bool {
	for _, b := range series {
		if b.N > 0 || b.Bad > 0 {
			return true
		}
	}
	return false
}

// mainRail is the rail with most alarms, else the first that failed as found,
// else the first that was watched.
func (t teller) mainRail() int {
	best, score := -1, -1
	for i, s := range t.states() {
		n := s.alarmsEver * 2
		if s.failedBefore {
			n++
		}
		if anyReadings(t.d.Rails[i].Series) && n > score {
			best, score = i, n
		}
	}
	return best
}

func (t teller) railChart(r capture.RailEvidence, i int, tall bool) (figureView, error) {
	m := chart.RailModel{
		ID: "rail" + strconv.Itoa(i), Rail: r.Rail, Series: r.Series, Resolution: r.Rail.DistanceResolution(t.resolution(r.Rail.Name)), Zone: t.o.Zone,
		Gaps: t.d.Gaps, Marks: t.marks(r), Width: 690, Height: 128, Text: 10.5,
	}
	if s := t.d.Soak; s != nil && !s.To.IsZero() {
		m.From, m.To = s.From, s.To
	}
	t.withoutPower(&m)
	caption := ""
	if tall {
		m.Height = 215
		m.Below = t.temperatures()
		m.Height += 60 * float64(len(m.Below))
		caption = "Band shaded, mean as a line, least to greatest shaded around it. Hatched: nothing observed. What leaves the drawing keeps its figure."
		if len(m.Below) > 0 {
			caption += " Below, on the same time axis: temperature."
		}
	}
	var b strings.Builder
	err := chart.Rail(&b, m)
	return figureView{SVG: template.HTML(b.String()), Caption: caption, Tall: tall}, err
}

// temperatures are the watched points that carry a series; at most two.
func (t teller) temperatures() []chart.Strip {
	var out []chart.Strip
	for _, w := range t.d.Points {
		c, ok := t.d.Roster.Channel(w.Channel)
		if ok && c.Quantity == capture.Temperature && anyReadings(w.Series) && len(out) < 2 {
			out = append(out, chart.Strip{Name: t.pointName(w), Quantity: c.Quantity, Series: w.Series, Resolution: w.Resolution})
		}
	}
	return out
}

// marks are the rail's alarms and, on every chart, the notes of the span.
func (t teller) marks(r capture.RailEvidence) []chart.Mark {
	var out []chart.Mark
	for _, a := range t.d.Alarms {
		o, of := t.onOutput(a.Rule)
		on := a.Rail == r.Rail.Name
		if of {
			on = slices.Contains(o.Rails, r.Rail.Name)
		}
		if on && t.inVolts(a) && !strings.HasPrefix(a.Untold(), "told as ") {
			out = append(out, chart.Mark{At: a.Raised, Kind: chart.Alarm, Word: a.Kind + " " + t.clock(a.Raised)})
		}
	}
	for _, e := range t.d.Entries {
		if e.Act.Verb == capture.ActNote {
			out = append(out, chart.Mark{At: e.At, Word: brief(e.Act.Text, e.Text)})
		}
	}
	return out
}

// brief gives the words of a note for a drawing.
func brief(said, sentence string) string {
	if said == "" {
		said = sentence
	}
	if r := []rune(said); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return said
}
