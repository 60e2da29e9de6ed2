package app

import "time"

// tellLink logs the changes of an instrument's connection: that it stands, and
// after how long away; once as a warning that it does not. Another reason for
// the same loss, "gone" that has become "not found", is no second warning.
func (a *App) tellLink(s pollState) {
	a.infoMu.Lock()
	last, any := a.told[s.Name]
	changed := !any || last.Up != s.Up
	if s.Up || s.Problem != "" {
		a.told[s.Name] = s
	}
	a.infoMu.Unlock()
	l := a.log.With().Str("instrument", s.Name).Logger()
	switch {
	case s.Up && changed:
		e := l.Info().Str("identity", identityWords(s))
		if any {
			e = e.Str("away", s.Since.Sub(last.Since).Round(100*time.Millisecond).String())
		}
		e.Msg("connected")
	case s.Up, s.Problem == "":
	case changed:
		l.Warn().Str("why", s.Problem).Msg("not connected")
	case s.Problem != last.Problem:
		l.Info().Str("why", s.Problem).Msg("still not connected")
	}
}

// identityWords says who answers; of a meter in doubt, what is to be done. The
// place that stands for a serial number tells nobody who is there.
func identityWords(s pollState) string {
	who := s.Identity.String()
	if !s.Identity.Certain() && s.Identity.Maker == "" {
		who = "unknown"
	}
	if s.Doubtful {
		who += ", to be confirmed: steadyrail tap " + s.Name + " RAIL"
	}
	return who
}
