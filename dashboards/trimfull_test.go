package dashboards

import "steadyrail/capture"

// fullTrimming has something in every field.
func fullTrimming() capture.Trimming {
	load := 0.62
	point := &capture.TrimPoint{At: 9, Stage: capture.Preset, Channel: "dmm/volts", Point: "TP5", Value: 5, U: .002, As: capture.MarkedAs{Load: &load, Input: &load, From: "typed"}, Marked: true}
	return capture.Trimming{
		Job: "AB-0147", Rail: "x", State: "low", At: 9, Value: 4.9, Resolution: .001, Uncertainty: .002, Target: 5, Off: -.1, Deviation: -1, Steady: true, Say: "s", Next: "n", Spoken: "p", Notes: []string{"n"},
		Tone: capture.Tone{Hz: []float64{660}, Every: 1, Pips: 1, Long: 1}, Touch: &capture.Touch{From: 1, To: 2, Before: 4.8, After: 4.9, Moved: .1, U: .001, Turns: 1}, Touches: 1,
		Gain: &capture.TrimGain{PerTurn: .04, U: .001, Touches: 1, Declared: true}, Slack: .1, Blade: .002, Course: capture.Course{Known: true, Final: 5, U: .001, TrimT: 4.99, Say: "s"},
		Trace: []capture.Point2{{At: 1, Value: 4.9, Good: true}}, Preset: point, Fitted: point, Findings: []string{"f"},
	}
}

// paperSoak is a soak with something in every field.
type paperSoak struct{ Soaker }

func (paperSoak) SoakState(string) (capture.RegimenState, error) {
	step := capture.RegimenTold{RegimenStep: capture.RegimenStep{Kind: "input", Long: 1, At: 24, Say: "s"}, From: 1, To: 2, State: "done", Verdict: "v"}
	return capture.RegimenState{
		Job: "AB-0147", Plan: capture.Regimen{For: 1, Warm: 1, Cycles: 1, On: 1, Off: 1, Output: "o", Steps: []float64{1}, Load: "l", Loads: []float64{1}, Each: 1, Back: 1},
		State: "running", Why: "w", Step: 1, Steps: []capture.RegimenTold{step}, Next: "n", From: 1, Needed: 1, Watched: 1, Parts: []capture.SoakPart{{From: 1, To: 2}}, InStep: 1, Cycles: 1, Say: []string{"s"},
	}, nil
}
