package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// kindCard is a kind of rule as the page of rules shows it.
type kindCard struct {
	capture.KindInfo
	Drawing *kindDrawing // nil: there is no picture
	Says    string       // what its judge said of the picture
	Verdict string       // what its verdict said then, with the uncertainty; empty: no accuracy is stated there
	When    string       // when a rule of it is there, and when it may alarm
}

// kindDrawing is a picture in units of its view box.
type kindDrawing struct {
	Label        string
	BandY, BandH string
	Lines, Other []string // points of unbroken stretches
	Spoke, Fine  bool     // the judge spoke; it had good news
	Doubt        string   // corners of the readings' uncertainty
	SpokeX       string
	MarkX        string
	Mark         string
}

// Size of a picture's view box; the strip on top is for the mark.
const (
	kindWidth, kindHeight = 320.0, 110.0
	kindTop               = 18.0
)

// Kinds lists the kinds of rule.
func (v *view) Kinds() (out []kindCard) {
	for _, k := range v.KindInfo {
		c := kindCard{KindInfo: k, Says: k.Picture.Say, Verdict: k.Picture.Verdict, When: whenOf(k)}
		c.Defaults = slices.Clone(k.Defaults) // the catalogue is everybody's
		for i := range c.Defaults {
			c.Defaults[i].Say = glue(c.Defaults[i].Say)
		}
		if len(k.Picture.Points) > 1 {
			c.Drawing = drawKind(k)
		}
		out = append(out, c)
	}
	return out
}

func whenOf(k capture.KindInfo) string {
	if k.Acts {
		return "Judges what is done with an output, not the readings beside it. Alarms in any stage."
	}
	when := "Alarms under power, with the probe clipped."
	if k.Dead {
		when = "Alarms without power, in cold checks and while isolating."
	}
	if k.Follows {
		return "Follows from every rail without being written. " + when
	}
	return "There where a rule is written. " + when
}

// InForce lists the verdict of each rule, in the order of the rails.
func (v *view) InForce() (out []capture.Verdict) {
	for _, rv := range v.Job.Rails {
		out = append(out, rv.Verdicts...)
	}
	return out
}

// rulesSentence is the news of the page of rules.
func (v *view) rulesSentence() (say, proof string) {
	if !v.HasJob {
		return fmt.Sprintf("%d kinds of rules", len(v.KindInfo)), "No job is open: what follows from a rail stands here once there is one."
	}
	var count [5]int
	list := v.InForce()
	for _, x := range list {
		count[x.Outcome]++
	}
	say = fmt.Sprintf("%d rules in force", len(list))
	if len(list) == 1 {
		say = "One rule in force"
	}
	doubt := count[capture.ConditionalPass] + count[capture.ConditionalFail]
	return say, fmt.Sprintf("%d pass, %d fail, %d cannot tell, %d have no data.", count[capture.Pass], count[capture.Fail], doubt, count[capture.NoData])
}

// scale turns readings to units of the view box.
type scale struct {
	from, span   capture.Instant
	least, reach float64
}

func scaleOf(p capture.KindPicture, points []capture.Point2, banded bool) scale {
	s := scale{from: p.Points[0].At, span: max(1, p.Points[len(p.Points)-1].At-p.Points[0].At)}
	least, most, any := 0.0, 0.0, false
	take := func(v float64) {
		if !any {
			least, most, any = v, v, true
		}
		least, most = min(least, v), max(most, v)
	}
	for _, q := range points {
		if q.Good {
			take(q.Value - p.Uncertainty)
			take(q.Value + p.Uncertainty)
		}
	}
	if banded && p.Low < p.High {
		take(p.Low)
		take(p.High)
	}
	pad := max((most-least)*0.08, 1e-9)
	s.least, s.reach = least-pad, most-least+2*pad
	return s
}

func (s scale) x(at capture.Instant) float64 {
	return float64(at-s.from) / float64(s.span) * kindWidth
}

func (s scale) y(v float64) float64 {
	return kindHeight - (v-s.least)/s.reach*(kindHeight-kindTop)
}

func unit(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// lines are the unbroken stretches of a series.
func (s scale) lines(points []capture.Point2) (out []string) {
	var b strings.Builder
	end := func() {
		if b.Len() > 0 {
			out = append(out, strings.TrimSpace(b.String()))
		}
		b.Reset()
	}
	for _, q := range points {
		if !q.Good {
			end()
			continue
		}
		b.WriteString(unit(s.x(q.At)) + "," + unit(s.y(q.Value)) + " ")
	}
	end()
	return out
}

// doubt is the band of so much about the good points of a series: there, and back
// below. Nothing of no uncertainty.
func (s scale) doubt(points []capture.Point2, u float64) string {
	if u == 0 {
		return ""
	}
	var over, under []string
	for _, q := range points {
		if q.Good {
			over = append(over, unit(s.x(q.At))+","+unit(s.y(q.Value+u)))
			under = append(under, unit(s.x(q.At))+","+unit(s.y(q.Value-u)))
		}
	}
	slices.Reverse(under)
	return strings.Join(append(over, under...), " ")
}

func drawKind(k capture.KindInfo) *kindDrawing {
	p := k.Picture
	s := scaleOf(p, p.Points, true)
	d := &kindDrawing{Label: "A series as this kind judges it. " + p.Say, Lines: s.lines(p.Points), Doubt: s.doubt(p.Points, p.Uncertainty)}
	if p.Low < p.High {
		d.BandY, d.BandH = unit(s.y(p.High)), unit(s.y(p.Low)-s.y(p.High))
	}
	if len(p.Other) > 1 { // a rail of its own height: only when it comes is shown
		d.Other = scaleOf(p, p.Other, false).lines(p.Other)
	}
	if p.Spoke == 0 {
		return d
	}
	at := min(kindWidth-1, max(1, s.x(p.Spoke)))
	d.Spoke, d.Fine, d.Mark = true, k.Name == "settled", "m-alarm"
	if d.Fine {
		d.Mark = "m-inside"
	}
	d.SpokeX, d.MarkX = unit(at), unit(min(kindWidth-16, max(0, at-8)))
	return d
}
