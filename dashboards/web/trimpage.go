package web

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// trimPage is one rail under the screwdriver: read from two metres, with the eyes
// on the board most of the time.
type trimPage struct {
	Name, Who, Age string
	Tone           tone
	Number         *numeral // nil: words take the large place
	Gone           string
	What, Then     string
	Next           string
	Upright        int
	Steady         string
	SteadyNote     string
	Level          template.HTML
	Preset, Fitted *keptValue
	Gain, GainNote string
	Course         string
	CourseNote     string
	Findings       []string
	Notes          []string
	Picker         []pick
	Turns          []turnChoice
	T              *capture.Trimming
	Bounds, Target string
}

type keptValue struct{ Value, Note string }

type turnChoice struct{ Value, Say string }

// turnChoices are what a hand can tell: the buttons for what was turned.
var turnChoices = []turnChoice{{"0.125", "⅛"}, {"0.25", "¼"}, {"0.5", "½"}, {"0.75", "¾"}, {"1", "1"}, {"2", "2"}}

func (v *view) trimPage() {
	t := v.Trimming
	if t == nil {
		v.Say, v.Proof = "No rail to trim", "Name one of the job's rails."
		if !v.HasJob {
			v.Say, v.Proof = "No job is open", v.instrumentsSentence()
		}
		return
	}
	p := &trimPage{Name: t.Rail, T: t, Tone: trimTone(t.State), Next: glue(t.Next), Turns: turnChoices}
	v.Trim = p
	for _, rv := range v.Job.Rails {
		if rv.Rail.Name == t.Rail {
			l := v.lane(rv)
			p.Who, p.Age = l.Who, l.Age
			p.Bounds, p.Target = bounds(rv.Rail, targetStep(rv)), withUnit(capture.Figure(rv.Rail.Target, targetStep(rv)), "V")
			p.Level = drawLevel(rv.Rail, t)
		}
		p.Picker = append(p.Picker, pick{Name: rv.Rail.Name, Link: v.trimLink(rv.Rail.Name), Here: rv.Rail.Name == t.Rail, Tone: v.lane(rv).Tone})
	}
	p.words(t)
	p.facts(v, t)
	v.Say = together(t.Rail) + ": " + lowerFirst(strings.ReplaceAll(t.Say, ": ", ", "))
}

func trimTone(state string) tone {
	switch state {
	case "low", "not up":
		return low
	case "high":
		return high
	case "inside":
		return inside
	case "cannot tell":
		return doubt
	}
	return silent
}

func (p *trimPage) words(t *capture.Trimming) {
	what, then, split := strings.Cut(t.Say, ": ")
	p.What = glue(what)
	if split {
		p.What, p.Then = p.What+":", "turn "+then
	}
	if t.State == "not up" {
		p.Then = glue(then)
	}
	p.Upright = map[tone]int{low: -90, high: 90}[p.Tone]
	if t.State == "no reading" {
		p.Gone = "No reading"
		return
	}
	n := voltNumeral(t.Value, max(t.Resolution, 0.001), 0)
	p.Number = &n
}

func (p *trimPage) facts(v *view, t *capture.Trimming) {
	p.Steady, p.SteadyNote = "Moving", "lift the blade, then it counts"
	if t.Steady {
		p.Steady, p.SteadyNote = "Steady", "the value counts now"
	}
	if t.State == "no reading" {
		p.Steady, p.SteadyNote = "No reading", "nothing counts"
	}
	p.Gain, p.GainNote = "Not known", "type how far the screw went after a touch"
	if t.Touch != nil {
		p.GainNote = "the last touch moved " + glue(millivolts(t.Touch.Moved))
	}
	if g := t.Gain; g != nil {
		p.Gain = withUnit(capture.Figure(1000*g.PerTurn, twoOf(2000*g.U)), "mV")
		from := "one touch"
		if g.Touches != 1 {
			from = count(g.Touches) + " touches"
		}
		p.GainNote = "give or take " + glue(millivolts(2*g.U)) + ", from " + from
		if g.Declared {
			p.GainNote = "by its data, not learned"
		}
	}
	p.Course = "Not yet known"
	p.CourseNote = strings.TrimPrefix(t.Course.Say, "Not yet known: ")
	if t.Course.Known {
		p.Course = withUnit(capture.Figure(t.Course.Final, twoOf(t.Course.U)), "V")
		p.CourseNote = glue(t.Course.Say)
	}
	for _, f := range t.Findings {
		p.Findings = append(p.Findings, sentence(glue(f)))
	}
	for _, n := range t.Notes {
		p.Notes = append(p.Notes, glue(n))
	}
	p.Preset, p.Fitted = v.keptValue(t.Preset), v.keptValue(t.Fitted)
}

func millivolts(volt float64) string { return capture.Volt.Text(math.Abs(volt), 0.001) }

// twoOf leaves two digits of a doubt.
func twoOf(u float64) float64 {
	if !(u > 0) {
		return 0.001
	}
	return math.Pow10(int(math.Floor(math.Log10(u))) - 1)
}

func (v *view) keptValue(p *capture.TrimPoint) *keptValue {
	if p == nil {
		return nil
	}
	res := 0.001
	if p.U > 0 {
		res = max(0.0001, twoOf(p.U))
	}
	k := &keptValue{Value: capture.Figure(p.Value, res), Note: v.when(p.At)}
	if p.U > 0 {
		k.Note += ", ±" + nbsp + glue(capture.Volt.Text(p.U, twoOf(p.U)))
	}
	if say := p.As.Say(); say != "" {
		k.Note += ", " + glue(say)
	}
	return k
}

// The drawing of the last half minute: the band in the middle, value up.
const (
	levelW, levelH = 600.0, 360.0
	levelSpan      = 1.9 // half-bands from the target to either rim
)

// drawLevel draws the last 30 s. What leaves the drawing is held at its rim.
func drawLevel(r capture.Rail, t *capture.Trimming) template.HTML {
	y := func(value float64) float64 {
		d := math.Max(-levelSpan, math.Min(levelSpan, deviation(r, value)))
		return levelH/2 - float64(d/levelSpan*levelH/2)
	}
	var b strings.Builder
	top, foot := levelH/2-levelH/2/levelSpan, levelH/2+levelH/2/levelSpan
	fmt.Fprintf(&b, `<svg class="level" viewBox="0 0 %.0f %.0f" role="img" aria-label="The last 30 seconds of %s">`, levelW, levelH, template.HTMLEscapeString(capture.TrueMinus(r.Name)))
	fmt.Fprintf(&b, `<rect class="vial" x="0" y="%.1f" width="%.0f" height="%.1f"/><path class="edge" d="M0 %.1fH%.0fM0 %.1fH%.0f"/><path class="target" d="M0 %.1fH%.0f"/>`,
		top, levelW, foot-top, top, levelW, foot, levelW, levelH/2, levelW)
	if n := len(t.Trace); n > 1 {
		end := t.Trace[n-1].At
		b.WriteString(`<path class="run" d="`)
		pen := "M"
		for _, q := range t.Trace {
			if !q.Good {
				pen = "M"
				continue
			}
			x := levelW - float64(end.Sub(q.At).Seconds()/(30*time.Second).Seconds()*levelW)
			b.WriteString(pen + strconv.FormatFloat(x, 'f', 1, 64) + " " + strconv.FormatFloat(y(q.Value), 'f', 1, 64))
			pen = "L"
		}
		b.WriteString(`"/>`)
	}
	s := r.Sized(0)
	label := func(at float64, value float64, word string) {
		if math.IsInf(value, 0) {
			return
		}
		fmt.Fprintf(&b, `<text x="8" y="%.1f">%s %s</text>`, at-7, template.HTMLEscapeString(capture.Volt.Text(value, 0.01)), word)
	}
	sign := sign(r)
	label(top, float64(sign*s.Bounds.High), "high edge")
	label(levelH/2, r.Target, "target")
	label(foot+24, float64(sign*s.Bounds.Low), "low edge")
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // figures, and a name that was escaped
}

// trimLink is the address of this page for a rail.
func (v *view) trimLink(rail string) string {
	link := "/trim?rail=" + template.URLQueryEscaper(rail)
	if v.Model.Job != "" {
		link += "&job=" + template.URLQueryEscaper(v.Model.Job)
	}
	return link
}
