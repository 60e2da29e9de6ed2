package poll

import (
	"slices"

	"steadyrail/capture"
)

// tellLost announces a loss once, and again only if it turns into another one:
// "gone" and "somebody else" are different things to a person, and so is a third
// instrument where a second one was.
func (l *Loop) tellLost(u *unit, kind capture.Flags, why string) {
	l.lossMu.Lock()
	defer l.lossMu.Unlock()
	if u.lostAt != 0 && u.why == kind && (kind == 0 || u.said == why) {
		return
	}
	if u.lostAt == 0 {
		u.lostAt = l.clock.Now()
	}
	u.why, u.said = kind, why
	l.announce(u, u.lost())
}

func (u *unit) lost() capture.Act {
	return capture.Act{Verb: capture.ActLinkLost, Subject: u.name, Text: u.said}
}

// tellBack announces the return of an instrument whose loss was announced.
func (l *Loop) tellBack(u *unit, now capture.Instant) {
	l.lossMu.Lock()
	defer l.lossMu.Unlock()
	if u.lostAt != 0 {
		l.announce(u, u.back(now))
		u.lostAt = 0
	}
}

// TellLosses posts to a job what it could not hear because it was not open yet:
// which of the link's instruments that serve it are away, and why. What becomes
// of them afterwards it hears like any other. It must not be called under the
// lock of what it posts to.
func (l *Loop) TellLosses(job string) error {
	l.lossMu.Lock()
	defer l.lossMu.Unlock()
	for _, u := range l.units {
		if u.lostAt == 0 || !l.serves(u, job) {
			continue
		}
		if _, err := l.sink.Post(job, u.lost()); err != nil {
			return err
		}
	}
	return nil
}

func (l *Loop) serves(u *unit, job string) bool {
	return slices.Contains(l.sink.Serves(u.name), job)
}
