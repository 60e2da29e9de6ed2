package web

import (
	"strings"

	"steadyrail/capture/live"
)

// fact stands under the lanes: label, figures, note.
type fact struct {
	Label string
	Parts []figure
	Note  string
}

type figure struct{ Value, Unit string }

// Facts lists what is measured besides rails, one fact for each instrument and
// place: the supply's read-back, a case temperature.
func (v *view) Facts() []fact {
	var out []fact
	index := map[string]int{}
	for _, p := range v.Job.Points {
		label := p.Placement.Point
		if label == "" {
			label = p.Channel.Instrument()
		}
		i, ok := index[label]
		if !ok {
			i, index[label] = len(out), len(out)
			out = append(out, fact{Label: capital(label)})
		}
		v.addFigure(&out[i], p)
	}
	if len(out) > 6 {
		out = out[:6]
	}
	return out
}

func (v *view) addFigure(f *fact, p live.PointView) {
	if !v.snap.Present(p.Last) {
		f.Parts = append(f.Parts, figure{Value: "No reading"})
		if p.Last != nil {
			f.Note = "last " + valueText(p.Last.Reading) + ", " + v.clock(p.Last.At)
		}
		return
	}
	text := valueText(p.Last.Reading)
	value, unit, _ := strings.Cut(text, nbsp)
	f.Parts = append(f.Parts, figure{value, unit})
	note := channelWords(p.Channel)
	if c, ok := v.snap.Channel(p.Channel); ok && c.Info.Setpoint {
		note = p.Channel.Instrument() + ", its own read-back"
	}
	if w := flagWords(p.Last.Reading.Flags); w != "" {
		note = w
	}
	f.Note = capital(note) + ". " + ageText(v.snap.Age(p.Last)) + " ago"
}
