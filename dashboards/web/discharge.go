package web

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
)

// Cold is what the page of cold checks shows beside the rails.
type Cold struct {
	Discharge *Discharge `json:"discharge,omitempty"` // nil: none was begun in this job
	Leads     []Leads    `json:"leads"`
}

// Leads is what the leads of a channel were nulled at.
type Leads struct {
	Channel string          `json:"channel"` // empty: of whatever measures resistance
	Ohms    float64         `json:"ohms"`
	Scatter float64         `json:"scatter"` // ohm, standard deviation of the nulls of these leads, or what tips scatter by
	N       int             `json:"n"`
	At      capture.Instant `json:"at"`
	Until   capture.Instant `json:"until"`
	Valid   bool            `json:"valid"`
	Say     string          `json:"say"`
}

// Discharge is a capacitor that is emptied while a meter watches.
type Discharge struct {
	Phase      string          `json:"phase"` // waiting, stands, falling, slower, faster, rising, below, held, back, ended
	News       string          `json:"news"`  // without figures
	Say        string          `json:"say"`
	Advice     string          `json:"advice,omitempty"`
	Proven     bool            `json:"proven"`
	Closed     bool            `json:"closed"` // a person ended it
	What       string          `json:"what"`
	Channel    string          `json:"channel"`
	Rail       string          `json:"rail,omitempty"`
	Card       DischargeCard   `json:"card"`
	Begun      capture.Instant `json:"begun"`
	Held       capture.Instant `json:"held,omitempty"`  // below the level, for some seconds, since
	At         capture.Instant `json:"at,omitempty"`    // of the newest reading; 0: none
	Volts      float64         `json:"volts"`           // magnitude
	Expected   float64         `json:"expected"`        // by R and C; 0: it has not begun to fall
	Resolution float64         `json:"resolution"`      // volt
	ToGo       float64         `json:"to_go,omitempty"` // seconds to the level, by R and C
	Steps      []DischargeStep `json:"steps"`
	Remarks    []string        `json:"remarks"`
	Curve      []DischargeDot  `json:"curve"`
}

// DischargeStep is one of prove, test, prove.
type DischargeStep struct {
	Name string `json:"name"`
	Done bool   `json:"done"`
	Say  string `json:"say"`
}

// DischargeDot is a reading beside what R and C say.
type DischargeDot struct {
	At       capture.Instant `json:"at"`
	Volts    float64         `json:"volts"`
	Expected float64         `json:"expected"` // 0: it had not begun to fall
}

// DischargeCard is what R, C and the voltage come to.
type DischargeCard struct {
	Ohms   float64  `json:"ohms"`
	Farads float64  `json:"farads"`
	Volts  float64  `json:"volts"`
	Level  float64  `json:"level"`
	Watts  float64  `json:"watts,omitempty"` // rating; 0: not stated
	Tau    float64  `json:"tau"`             // seconds
	Wait   float64  `json:"wait"`            // seconds
	Peak   float64  `json:"peak"`            // watt
	Energy float64  `json:"energy"`          // joule
	Rating string   `json:"rating"`          // fits, cannot tell, does not fit, not stated
	Say    []string `json:"say"`
}

// ColdAnswer is what was asked with the form of the card, and what came of it.
type ColdAnswer struct {
	Asked map[string]string
	Wrong string
	Card  *DischargeCard
}

// Asked returns what stands in a field of the card's form.
func (a *ColdAnswer) Field(key string) string {
	if a == nil {
		return ""
	}
	return a.Asked[key]
}

// coldSentence is the news of the page.
func (v *view) coldSentence() (say, proof string) {
	d := v.discharge()
	if d == nil {
		return "Nothing is being discharged", "Prove the meter on a live source, test, prove it again."
	}
	return d.News, sentence(d.Advice)
}

func (v *view) discharge() *Discharge {
	if v.Cold == nil {
		return nil
	}
	return v.Cold.Discharge
}

// Volt is the reading in large digits.
func (d Discharge) Volt() string {
	if d.At == 0 {
		return "No reading"
	}
	return withUnit(capture.Figure(d.Volts, d.Resolution), "V")
}

// Beside is what R and C say at that moment, and how long it will take.
func (d Discharge) Beside() string {
	if d.Expected == 0 {
		return ""
	}
	out := "R and C say " + glue(capture.Volt.Text(d.Expected, max(d.Resolution, coarse(d.Expected))))
	if d.ToGo > 0 {
		out += fmt.Sprintf(", %s to %s", glue(capture.Second.Text(d.ToGo, max(0.1, coarse(d.ToGo)))), glue(capture.Volt.Text(d.Card.Level, 0)))
	}
	return out
}

// coarse leaves three digits of v.
func coarse(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	return math.Pow10(int(math.Floor(math.Log10(v))) - 2)
}

// Mark is the shape of a step.
func (s DischargeStep) Mark() string {
	if s.Done {
		return "m-inside"
	}
	return "m-silent"
}

// Class is the colour of its shape.
func (s DischargeStep) Class() string {
	if s.Done {
		return "is-inside"
	}
	return "is-silent"
}

// Mark is the shape beside the leads.
func (l Leads) Mark() string { return DischargeStep{Done: l.Valid}.Mark() }

// Class is its colour.
func (l Leads) Class() string { return DischargeStep{Done: l.Valid}.Class() }

// The size of the drawing of the curve, in its own units.
const (
	curveW = 600.0
	curveH = 200.0
)

// Measured is the polyline of what was read.
func (d Discharge) Measured() string {
	return d.line(func(p DischargeDot) float64 { return p.Volts })
}

// Predicted is the polyline of what R and C say.
func (d Discharge) Predicted() string {
	return d.line(func(p DischargeDot) float64 { return p.Expected })
}

// LevelY is the height of the level.
func (d Discharge) LevelY() string {
	return fmt.Sprintf("%.1f", curveH*(1-min(1, d.Card.Level/d.top())))
}

// Top says the upper edge of the drawing.
func (d Discharge) Top() string { return glue(capture.Volt.Text(d.top(), 0)) }

// Level says the level.
func (d Discharge) Level() string { return glue(capture.Volt.Text(d.Card.Level, 0)) }

// Span says how long the drawing lasts.
func (d Discharge) Span() string {
	s := d.seconds(d.Curve[len(d.Curve)-1].At)
	return glue(capture.Second.Text(s, max(0.1, coarse(s))))
}

func (d Discharge) top() float64 {
	top := d.Card.Volts
	for _, p := range d.Curve {
		top = max(top, p.Volts)
	}
	step := coarse(top) * 10
	return math.Ceil(top/step-1e-9) * step
}

func (d Discharge) seconds(at capture.Instant) float64 { return at.Sub(d.Curve[0].At).Seconds() }

func (d Discharge) line(of func(DischargeDot) float64) string {
	if len(d.Curve) < 2 {
		return ""
	}
	width, top := max(d.seconds(d.Curve[len(d.Curve)-1].At), 1e-3), d.top()
	var b strings.Builder
	for _, p := range d.Curve {
		if v := of(p); v > 0 || p.Expected > 0 {
			fmt.Fprintf(&b, "%.1f,%.1f ", curveW*d.seconds(p.At)/width, curveH*(1-v/top))
		}
	}
	return strings.TrimSpace(b.String())
}
