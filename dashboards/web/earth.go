package web

import (
	"fmt"
	"html/template"

	"steadyrail/dashboards/chart"
)

// EarthDrawing is the drawing of the low leads. The chart escapes its own text.
func (v *view) EarthDrawing() template.HTML { return template.HTML(chart.Earth(v.Lows)) }

// EarthNote counts what is tied to earth and says what would be a short.
func (v *view) EarthNote() string {
	tied, unstated := 0, 0
	for _, l := range v.Lows {
		switch {
		case l.Shorted:
			return "Two nets are shorted as the leads stand: take one of the marked leads off before anything is switched on."
		case l.Earth || l.Tie == "earthed":
			tied++
		case l.Tie == "not stated":
			unstated++
		}
	}
	note := "No lead is tied to earth."
	if tied+unstated > 0 {
		note = fmt.Sprintf("%d of %d leads tied to earth", tied, len(v.Lows))
		if unstated > 0 {
			note += fmt.Sprintf(", %d not stated (dashed)", unstated)
		}
		note += ": all of them must be on one net."
	}
	return note + " Local codes and licensed practice govern this work."
}
