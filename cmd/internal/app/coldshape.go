package app

import (
	"steadyrail/capture"
	"steadyrail/dashboards/web"
	"steadyrail/rules/discharge"
	"steadyrail/rules/kind"
)

// leads lists what the leads of each channel were nulled at.
func (a *App) leads(j *openJob) []web.Leads {
	out := []web.Leads{}
	folded := nulls(j)
	now := a.clock.Now()
	for _, n := range folded.List() {
		out = append(out, web.Leads{
			Channel: n.Subject, Ohms: n.Ohms, Scatter: n.Scatter(), N: n.N(), At: n.At, Until: n.Until(), Valid: !n.Old(now), Say: n.Say(now),
		})
	}
	return out
}

func nulls(j *openJob) (folded kind.Nulls) {
	for _, n := range j.book.Nulls() {
		folded.Add(n.At, n.Subject, n.Ohms)
	}
	return folded
}

// leadOf is what is taken off the ohms of a channel now; 0: nothing.
func (a *App) leadOf(j *openJob, id capture.ChannelID) float64 {
	folded := nulls(j)
	if n, ok := folded.Of(id, a.clock.Now()); ok {
		return n.Ohms
	}
	return 0
}

func dischargeShape(s discharge.State) web.Discharge {
	out := web.Discharge{
		Phase: string(s.Phase), News: s.News, Say: s.Say, Advice: s.Advice, Proven: s.Proven, What: s.Card.What, Channel: string(s.Card.Channel), Rail: s.Card.Rail,
		Card: cardShape(s.Card, s.Answer), Begun: s.Begun, Held: s.Held, At: s.Last.At, Volts: s.Last.Volts, Expected: s.Last.Expected, Resolution: s.Res,
		ToGo: s.ToGo.Seconds(), Closed: s.Closed, Steps: []web.DischargeStep{}, Remarks: append([]string{}, s.Remarks...), Curve: []web.DischargeDot{},
	}
	for _, step := range s.Steps {
		out.Steps = append(out.Steps, web.DischargeStep(step))
	}
	for _, p := range s.Points {
		out.Curve = append(out.Curve, web.DischargeDot(p))
	}
	return out
}

// DischargeCard answers a card that was validated.
func DischargeCard(d capture.Discharge) web.DischargeCard { return cardShape(d, discharge.Reckon(d)) }

func cardShape(d capture.Discharge, a discharge.Answer) web.DischargeCard {
	return web.DischargeCard{
		Ohms: d.Ohms, Farads: d.Farads, Volts: d.Volts, Level: d.Level, Watts: d.Watts, Tau: a.Tau.Seconds(), Wait: a.Wait.Seconds(),
		Peak: a.Peak, Energy: a.Energy, Rating: string(a.Rating), Say: a.Say,
	}
}
