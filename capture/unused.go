package capture

import (
	"fmt"
	"slices"
	"time"
)

// UnusedReading is a reading, or a line, that does not count in an isolation.
type UnusedReading struct {
	At      Instant `json:"at"`      // 0: of no instant
	Because string  `json:"because"` // "the rail was under power": the same for all of one reason
	Say     string  `json:"say"`
}

// UnusedGroup is what does not count for one reason.
type UnusedGroup struct {
	Because string  `json:"because"`
	N       int     `json:"n"`
	From    Instant `json:"from,omitempty"`
	To      Instant `json:"to,omitempty"`
	Say     string  `json:"say,omitempty"` // the whole of it, of a single one
}

// GroupUnused puts together what does not count for the same reason, the reason
// that came first first.
func GroupUnused(list []UnusedReading) []UnusedGroup {
	out := []UnusedGroup{}
	for _, u := range list {
		i := slices.IndexFunc(out, func(g UnusedGroup) bool { return g.Because == u.Because })
		if i < 0 {
			out = append(out, UnusedGroup{Because: u.Because, N: 1, From: u.At, To: u.At, Say: u.Say})
			continue
		}
		g := &out[i]
		g.N, g.Say = g.N+1, ""
		g.To = max(g.To, u.At)
		if g.From == 0 || u.At != 0 && u.At < g.From {
			g.From = u.At
		}
	}
	return out
}

// Text tells a group in a line: "14 times: the rail was under power (10:02 to
// 10:05)"; a single one is told whole.
func (g UnusedGroup) Text(zone *time.Location) string {
	if g.N == 1 {
		return g.Say
	}
	text := fmt.Sprintf("%d times: %s", g.N, g.Because)
	from, to := g.From.Time().In(zone).Format("15:04"), g.To.Time().In(zone).Format("15:04")
	switch {
	case g.To == 0:
		return text
	case from == to:
		return text + " (" + from + ")"
	}
	return text + " (" + from + " to " + to + ")"
}
