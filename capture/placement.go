package capture

import "fmt"

// Hold tells how a probe is on its point. Rules about time are armed only on
// clipped placements: a hand-held probe that is lifted is no collapse.
type Hold uint8

// The holds.
const (
	Touched Hold = iota
	Clipped
)

// String returns "touched" or "clipped".
func (h Hold) String() string {
	if h == Clipped {
		return "clipped"
	}
	return "touched"
}

// ParseHold reads "touched" or "clipped".
func ParseHold(s string) (Hold, error) {
	switch s {
	case "touched":
		return Touched, nil
	case "clipped":
		return Clipped, nil
	}
	return Touched, fmt.Errorf("a probe is touched or clipped, not %q", s)
}

// MarshalText writes String.
func (h Hold) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads String.
func (h *Hold) UnmarshalText(b []byte) error {
	v, err := ParseHold(string(b))
	*h = v
	return err
}

// Placement says that from now on a channel is on a rail, at a point, against
// a return. With an empty Rail and Point the channel is on nothing, but still
// serves the job.
type Placement struct {
	Channel  ChannelID `json:"channel"`
	Rail     string    `json:"rail,omitempty"`
	Point    string    `json:"point,omitempty"`  // test point, or what is measured when it is no rail: "stand-in case"
	Return   string    `json:"return,omitempty"` // net of the other lead
	Hold     Hold      `json:"hold"`
	By       string    `json:"by,omitempty"`       // who says so
	Corrects Instant   `json:"corrects,omitempty"` // the earlier placement that this one mends; 0: none
	Why      string    `json:"why,omitempty"`
}

// PointAmbient is the point of a temperature channel that measures the air about
// the meters: their accuracy depends on it.
const PointAmbient = "ambient"

// Placements folds placement records into "which channel was where when".
// A correction changes what the mended placement said, for the whole time that
// it held; both stay in the log. The zero value is empty and ready.
type Placements struct {
	byChannel map[ChannelID][]placed
	channels  []ChannelID
}

type placed struct {
	at   Instant
	what Placement
}

// Apply adds a placement made at the given instant. A correction of a
// placement that is not there is an error and changes nothing.
func (p *Placements) Apply(at Instant, pl Placement) error {
	if p.byChannel == nil {
		p.byChannel = map[ChannelID][]placed{}
	}
	list := p.byChannel[pl.Channel]
	if pl.Corrects != 0 {
		for i := range list {
			if list[i].at == pl.Corrects {
				list[i].what = pl
				return nil
			}
		}
		return fmt.Errorf("correct placement of %s at %s: no such placement", pl.Channel, pl.Corrects)
	}
	if list == nil {
		p.channels = append(p.channels, pl.Channel)
	}
	p.byChannel[pl.Channel] = append(list, placed{at, pl})
	return nil
}

// Now returns the latest placement of a channel and when it was made.
func (p *Placements) Now(ch ChannelID) (Placement, Instant, bool) {
	list := p.byChannel[ch]
	if len(list) == 0 {
		return Placement{}, 0, false
	}
	last := list[len(list)-1]
	return last.what, last.at, true
}

// At returns the placement that held for a channel at an instant, corrections
// included.
func (p *Placements) At(ch ChannelID, at Instant) (Placement, bool) {
	list := p.byChannel[ch]
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].at <= at {
			return list[i].what, true
		}
	}
	return Placement{}, false
}

// Channels lists every channel that was ever placed, in order of appearance.
func (p *Placements) Channels() []ChannelID { return p.channels }

// Span is a stretch of time during which one channel stood on one rail.
type Span struct {
	Channel  ChannelID
	From, To Instant // To is 0 while it lasts
	Placement
}

// Spans lists when a rail was measured and by which channel, in order of
// channel and time. An empty rail lists the stretches on no rail.
func (p *Placements) Spans(rail string) []Span {
	var out []Span
	for _, ch := range p.channels {
		list := p.byChannel[ch]
		for i, it := range list {
			if it.what.Rail != rail {
				continue
			}
			s := Span{Channel: ch, From: it.at, Placement: it.what}
			if i+1 < len(list) {
				s.To = list[i+1].at
			}
			out = append(out, s)
		}
	}
	return out
}
