package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// mutedWords says why nobody is told of an alarm; of what a person muted, until
// when.
func (v *view) mutedWords(t capture.Transition) string {
	m, on := v.Job.Mutes.On(v.snap.Now, t)
	switch person := strings.HasPrefix(t.Muted, "muted"); {
	case person && on && m.By != "":
		return "muted until " + v.when(m.Until) + " by " + m.By
	case person && on:
		return "muted until " + v.when(m.Until)
	case person && !t.To.IsActive():
		return "came and went while it was muted"
	case person:
		return t.Muted
	}
	return "muted: " + t.Muted
}

// muteRow is a mute in force, for people.
type muteRow struct{ Of, Subject, Until, Left, By string }

// Mutes are the mutes in force, those that end first before the others: what is
// muted is seen also while there is no alarm.
func (v *view) Mutes() (out []muteRow) {
	list := slices.SortedStableFunc(slices.Values(v.Job.Mutes.Now(v.snap.Now)), func(a, b capture.Mute) int { return cmp.Compare(a.Until, b.Until) })
	for _, m := range list {
		out = append(out, muteRow{Of: m.Of(), Subject: m.Subject, Until: v.when(m.Until), Left: lasting(m.Until.Sub(v.snap.Now)), By: m.By})
	}
	return out
}

// oneStorm is how near two alarms come to belong to one storm: as near as two
// rails must fall for it to be asked which was first.
const oneStorm = 10 * time.Second

// firstUp marks the alarm that came before the others of its storm. It is the
// order in which they were found, no more: which rail fell first, an alarm says
// itself. Two that came with the same record or tick have no order.
func (v *view) firstUp() {
	var order []*alarm
	for i := range v.Alarms {
		if v.Alarms[i].Active {
			order = append(order, &v.Alarms[i])
		}
	}
	slices.SortStableFunc(order, func(a, b *alarm) int { return cmp.Compare(a.raised, b.raised) })
	for i := 0; i < len(order); {
		n := i + 1
		for n < len(order) && order[n].raised.Sub(order[n-1].raised) <= oneStorm {
			n++
		}
		if n-i > 1 && order[i].raised < order[i+1].raised {
			within := capture.Second.Text(order[n-1].raised.Sub(order[i].raised).Seconds(), 0.1)
			order[i].First = fmt.Sprintf("First of %s alarms within %s", count(n-i), within)
		}
		i = n
	}
}

// Lengths are the minutes that a mute is offered for; other lengths by the
// command line.
func (a acts) Lengths() []int { return []int{5, 15, 60} }
