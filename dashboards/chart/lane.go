package chart

import (
	"time"
)

// placedMark is a mark with the room of its sign and, where it found some, of
// its words.
type placedMark struct {
	Mark
	x      float64
	words  box
	anchor string // "": the label found no room
}

// arrange finds room for the words, alarms before notes: to the right of the
// sign, else to the left, else none.
func arrange(f *frame, marks []Mark, y float64) []placedMark {
	var out []placedMark
	var taken []box
	for _, m := range marks {
		if m.At < f.from || m.At > f.to {
			continue
		}
		p := placedMark{Mark: m, x: f.x(m.At)}
		out = append(out, p)
		taken = append(taken, box{p.x - 10*f.k, p.x + 10*f.k, y})
	}
	for _, kind := range []MarkKind{Alarm, Note} {
		for i := range out {
			p := &out[i]
			if p.Kind != kind || p.Word == "" {
				continue
			}
			w := wide(p.Word, f.text)
			right, left := box{p.x + 14*f.k, p.x + 14*f.k + w, y}, box{p.x - 14*f.k - w, p.x - 14*f.k, y}
			switch {
			case right.x2 <= f.width-4 && !right.hits(taken, f.text):
				p.words, p.anchor = right, "start"
			case left.x1 >= 4 && !left.hits(taken, f.text):
				p.words, p.anchor = left, "end"
			default:
				continue
			}
			taken = append(taken, p.words)
		}
	}
	return out
}

// lane draws the events on their own line of the time axis. An alarm's line
// crosses every strip.
func lane(f *frame, marks []Mark, y, bottom float64, zone *time.Location) {
	placed := arrange(f, marks, y)
	for _, p := range placed {
		if p.Kind == Alarm {
			f.line("c-event", p.x, topRoom*f.k, p.x, bottom)
		}
	}
	for _, p := range placed {
		class, text := "c-flag", "bad halo"
		title := p.Word + ", " + moment(p.At, zone)
		if p.Kind == Alarm {
			r := 9 * f.k
			f.open("path", append(at{"class", class}, append(paint[class], "d", "M"+num(p.x)+" "+num(y-r)+"l"+num(r)+" "+num(r)+" "+num(-r)+" "+num(r)+" "+num(-r)+" "+num(-r)+"Z")...))
			f.tag("title", nil, title)
			f.shut("path")
		} else {
			class, text = "c-flag note", "halo"
			f.open("circle", append(at{"class", class}, append(paint[class], "cx", num(p.x), "cy", num(y), "r", num(4.5*f.k))...))
			f.tag("title", nil, title)
			f.shut("circle")
		}
		if p.anchor != "" {
			f.say(text, p.anchor, pickNum(p.anchor == "start", p.words.x1, p.words.x2), y+4.5*f.k, p.Word)
		}
	}
}
