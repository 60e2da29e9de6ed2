package dashboards

import (
	"context"

	"steadyrail/capture"
	"steadyrail/capture/walk"
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

// walkOnPaper is a walk in the middle.
type walkOnPaper struct{}

func (walkOnPaper) Walk(context.Context, string, uint64) (WalkView, error) {
	f := walk.Figure{Value: 4.98, Text: "4.98 V", Why: "as it is", At: 3, Place: 2, Odd: true, AtLeast: true}
	return WalkView{Seq: 7, View: walk.View{Job: "AB-0147", Active: true, Rail: "x", Point: "TP5", In: "ohms", Word: "touch", Note: "n", Key: "take again", Last: "l", Done: 1, Of: 2,
		Cautions: []string{"A caution."}, Rows: []walk.Row{{Rail: "x", Volts: f, Ohms: f, Reversed: f, Verdict: "Yes"}}}}, nil
}

func (walkOnPaper) DoWalk(context.Context, string, WalkAct) (Result, error) { return Result{}, nil }

func limiterOnPaper(capture.LimiterQuestion) (web.Limited, error) {
	return web.Limited{Word: "fits", Say: "s", MostOhm: 1467, MostWatts: 220, Cold: 120, Hot: 120, Points: []web.LimiterPoint{{Set: 318, Ampere: .057, Limiter: .38, Stable: true}},
		Short: 880, ShortAmps: 2.7, Rows: [][2]string{{"a", "b"}}, Basis: "b", Cautions: []string{"c"}}, nil
}

func keptOnPaper(context.Context, string) ([]capture.StandInJudged, error) {
	return []capture.StandInJudged{{At: 1, Candidate: "board A", Rail: "x", Word: "fits", Say: "s", Checks: []capture.StandInCheck{{Name: "n", Word: "fits", Say: "s", Source: []string{"f"}}},
		Point: "case", Estimate: []byte(`{"junction":61}`), Soaked: &capture.StandInSoaked{Channel: "dmm/celsius", At: 2, Word: "fits", Say: "s"}}}, nil
}
