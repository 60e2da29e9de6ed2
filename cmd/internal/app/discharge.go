package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/rules/discharge"
)

// Cold returns what the page of cold checks shows.
func (a *App) Cold(id string) web.Cold {
	j, err := a.job(id)
	if err != nil {
		return web.Cold{Leads: []web.Leads{}}
	}
	out := web.Cold{Leads: a.leads(j)}
	if s := j.discharge.State(a.clock.Now(), time.Local); s.Phase != discharge.None {
		d := dischargeShape(s)
		out.Discharge = &d
	}
	return out
}

// Reckon answers a card.
func (a *App) Reckon(ask dashboards.DischargeAsk) (web.DischargeCard, error) {
	d, err := ask.Card(a.o.Config.Decimal)
	if err != nil {
		return web.DischargeCard{}, err
	}
	return DischargeCard(d), nil
}

// voltmeter refuses a channel that cannot watch a capacitor.
func (a *App) voltmeter(name string) (capture.ChannelInfo, error) {
	ch, ok := a.channel(capture.ChannelID(name))
	var volts []string
	for _, in := range a.order {
		for _, c := range a.info(in).Channels {
			if c.Quantity == capture.DCVoltage && !c.Setpoint {
				volts = append(volts, string(c.ID))
			}
		}
	}
	hint := "channels of DC volts: " + strings.Join(volts, ", ")
	switch {
	case name == "":
		return ch, &dashboards.Error{Kind: dashboards.Invalid, Detail: "discharge: no meter is named", Hint: hint}
	case !ok:
		return ch, &dashboards.Error{Kind: dashboards.NotFound, Detail: "discharge: there is no channel " + name, Hint: hint}
	case ch.Quantity != capture.DCVoltage:
		return ch, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("discharge: %s measures %s, and a capacitor is watched in DC volts", name, ch.Quantity.Words()), Hint: hint}
	case ch.Setpoint:
		return ch, &dashboards.Error{Kind: dashboards.Refused, Detail: fmt.Sprintf("discharge: %s is a supply's own reading, taken inside it", name), Hint: hint}
	}
	return ch, nil
}

// BeginDischarge puts the channel on the capacitor and records the card.
func (a *App) BeginDischarge(ctx context.Context, id string, ask dashboards.DischargeAsk) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	if _, err := a.voltmeter(ask.Channel); err != nil {
		return dashboards.Result{}, err
	}
	d, err := ask.Card(a.o.Config.Decimal)
	if err != nil {
		return dashboards.Result{}, err
	}
	p := capture.Placement{Channel: d.Channel, Point: d.What}
	if ask.Rail != "" {
		rail, err := j.book.Sheet().FindRail(ask.Rail)
		if err != nil {
			return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: "discharge: " + err.Error()}
		}
		d.Rail, p.Rail, p.Point = rail.Name, rail.Name, ""
		if d.What == "" {
			d.What = "the capacitor on " + rail.Name
		}
	}
	if d.What == "" {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "discharge: name the capacitor or its rail", Hint: `such as "C1, bulk"`}
	}
	placed, err := a.Place(ctx, id, p)
	if err != nil {
		return dashboards.Result{}, err
	}
	res, err := a.Act(ctx, j.id, capture.Act{Verb: capture.ActDischarge, Subject: d.What, Text: d.Text(), Value: d.Volts})
	if err != nil {
		return res, err
	}
	res.Say += " " + strings.Join(discharge.Reckon(d).Say, " ")
	if _, more, found := strings.Cut(placed.Say, ". "); found {
		res.Say += " " + more // cautions of the rail, said with its first placement
	}
	return res, nil
}

// EndDischarge records what was measured.
func (a *App) EndDischarge(ctx context.Context, id string) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	s := j.discharge.State(a.clock.Now(), time.Local)
	if s.Phase == discharge.None || s.Closed {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: "discharge: none is under way in job " + j.id, Hint: "begin one: steadyrail discharge begin"}
	}
	return a.Act(ctx, j.id, capture.Act{Verb: capture.ActDischarged, Subject: s.Card.What, Text: s.Finished, Value: s.Last.Volts})
}
