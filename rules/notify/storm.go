package notify

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// storm decides when messages are told one by one and when as one: the first
// few of a window go at once, what comes after them waits for the window's end.
// While that goes on, every window is told as one.
type storm struct {
	after  int
	within time.Duration
	began  time.Time // of the window
	told   int       // in it
	held   bool      // something waits for its end
}

// next says how many of the waiting messages are to be told now: 1, all of
// them, or none for as long as hold. What is final waits for nothing.
func (s *storm) next(now time.Time, waiting int, final bool) (n int, hold time.Duration) {
	open := !s.began.IsZero() && now.Sub(s.began) < s.within
	switch {
	case open && s.told < s.after:
		s.told++
		return 1, 0
	case open && !final:
		s.held = true
		return 0, s.began.Add(s.within).Sub(now)
	case open || s.held:
		s.began, s.told, s.held = now, s.after, false
		return waiting, 0
	}
	s.began, s.told = now, 1
	return 1, 0
}

// groupShows is how many sentences of a group are said in full.
const groupShows = 3

// grouped makes one message of many: it is about the gravest, says the gravest
// first, and carries all of them in order.
func grouped(all []Message) Message {
	if len(all) == 1 {
		return all[0]
	}
	gravest := all[0]
	for _, m := range all[1:] {
		if m.Alarm.Severity > gravest.Alarm.Severity {
			gravest = m
		}
	}
	gravest.Group = append([]Message(nil), all...)
	gravest.Sentence = groupSentence(all)
	return gravest
}

// groupSentence says "9 alarms in 10 s: +5 V logic collapsed; ...; and 6 more;
// the first was +12 V audio low". The length is the bench's.
func groupSentence(all []Message) string {
	byGravity := slices.Clone(all)
	slices.SortStableFunc(byGravity, func(a, b Message) int { return cmp.Compare(b.Alarm.Severity, a.Alarm.Severity) })
	var says []string
	for _, m := range byGravity {
		says = append(says, m.Say())
	}
	first := ""
	if says[0] != all[0].Say() {
		first = "; the first was: " + all[0].Say()
	}
	if n := len(says) - groupShows; n > 0 {
		says = append(says[:groupShows:groupShows], fmt.Sprintf("and %d more", n))
	}
	span := all[len(all)-1].Alarm.At.Sub(all[0].Alarm.At)
	return fmt.Sprintf("%d %s in %s: %s%s", len(all), groupNoun(all), spanWords(span), strings.Join(says, "; "), first)
}

func groupNoun(all []Message) string {
	for _, m := range all {
		if m.Alarm.To != capture.Active {
			return "messages"
		}
	}
	return "alarms"
}

func spanWords(d time.Duration) string {
	if d < time.Second {
		return "less than 1 s"
	}
	if d < 2*time.Minute {
		return fmt.Sprintf("%.0f s", d.Seconds())
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}
