package dashboards

import (
	"context"

	"steadyrail/dashboards/web"
)

// paperCold answers everything with one filled example.
type paperCold struct{}

func (paperCold) Cold(string) web.Cold {
	card, _ := paperCold{}.Reckon(DischargeAsk{})
	return web.Cold{
		Discharge: &web.Discharge{Phase: "falling", Say: "s", Advice: "a", What: "C1", Channel: "dmm/volts", Rail: "x", Card: card, Begun: 1, Held: 2, At: 3, Volts: 4, Expected: 5, Resolution: .1, ToGo: 1,
			Steps: []web.DischargeStep{{Name: "n", Done: true, Say: "s"}}, Remarks: []string{"r"}, Curve: []web.DischargeDot{{At: 1, Volts: 2, Expected: 3}}},
		Leads: []web.Leads{{Channel: "dmm/ohms", Ohms: .2, Scatter: .01, N: 3, At: 1, Until: 2, Valid: true, Say: "s"}},
	}
}

func (paperCold) Reckon(DischargeAsk) (web.DischargeCard, error) {
	return web.DischargeCard{Ohms: 1, Farads: 2, Volts: 3, Level: 4, Watts: 5, Tau: 6, Wait: 7, Peak: 8, Energy: 9, Rating: "fits", Say: []string{"s"}}, nil
}

func (paperCold) ProveMeter(context.Context, string, DischargeAsk) (Result, error) {
	return Result{}, nil
}

func (paperCold) BeginDischarge(context.Context, string, DischargeAsk) (Result, error) {
	return Result{}, nil
}
func (paperCold) EndDischarge(context.Context, string) (Result, error) { return Result{}, nil }
