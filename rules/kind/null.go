package kind

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// null is what the leads of a subject were found to have. They are nulled away
// from the rail, before the channel sits on it.
type null struct {
	subject string
	ohms    float64 // newest
	all     trend.Moments
}

// tips is what hand-held tips scatter by from contact to contact, in ohm
// (common practice: some ten milliohm).
const tips = 0.01

// again takes a null of the same leads.
func (n null) again(ohms float64) null {
	n.ohms = ohms
	n.all.Add(ohms)
	return n
}

// doubt is the standard uncertainty of what was taken off: how far the nulls of
// the same leads scattered, and not less than tips do.
func (n null) doubt() float64 { return max(tips, n.all.SD()) }

// concerns reports whether a null named so is about a channel.
func (n null) concerns(id capture.ChannelID) bool {
	return n.subject == "" || n.subject == string(id) || n.subject == id.Instrument()
}

// keepNull takes an act that says what the leads have; a steady run of readings
// begins anew, for their figures are other ones now.
func (s *short) keepNull(act *capture.Act) {
	n := null{subject: act.Subject}
	if i := slices.IndexFunc(s.nulls, func(n null) bool { return n.subject == act.Subject }); i >= 0 {
		n = s.nulls[i]
		s.nulls = slices.Delete(s.nulls, i, i+1)
	}
	s.nulls = append(s.nulls, n.again(act.Value))
	s.run = steadyRun{}
	s.takeNull()
}

// takeNull finds the newest null of the channel that sits on the rail.
func (s *short) takeNull() {
	s.lead, s.leadU, s.nulled = 0, 0, false
	for _, n := range s.nulls {
		if n.concerns(s.seat.Channel.ID) {
			s.lead, s.leadU, s.nulled = n.ohms, n.doubt(), true
		}
	}
}
