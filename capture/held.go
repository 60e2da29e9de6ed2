package capture

import "time"

// HeldWord is what a rule decided before it could not judge any more, such as that a
// rail was no short before power came: it stands as what was found then, and says
// nothing of now. The zero value is none.
type HeldWord struct {
	Outcome Outcome `json:"outcome"`
	Say     string  `json:"say"` // "4.67 kΩ: no short"
	At      Instant `json:"at"`  // newest reading that it rests on
	// Since is from when it is not judged, 0 where nothing happened but that the
	// probe was taken off, and Why what came then: "power was switched on".
	Since Instant `json:"since,omitempty"`
	Why   string  `json:"why,omitempty"`
}

// Text tells what was found and when, and since when and why it is not judged.
func (h HeldWord) Text(zone *time.Location) string {
	if h.At == 0 {
		return ""
	}
	return h.Say + ", " + h.When(zone)
}

// When is the text without what was found: "at 10:42; not judged since 11:05, when
// supply/1 was switched on".
func (h HeldWord) When(zone *time.Location) string {
	if h.At == 0 {
		return ""
	}
	text := "at " + h.At.Time().In(zone).Format("15:04")
	if h.Since != 0 {
		text += "; not judged since " + h.Since.Time().In(zone).Format("15:04") + ", when " + h.Why
	}
	return text
}
