package dashboards

import (
	"context"

	"steadyrail/capture"
)

// paperEntries answers with one filled example.
type paperEntries struct{ Entries }

func (paperEntries) JobEntries(context.Context, string) (string, []capture.Entry, error) {
	return "AB-0147", paperBench{}.Snapshot().Jobs[0].Entries, nil
}

func (paperEntries) Returned(context.Context, string) (*capture.Return, error) {
	r := &capture.Result{Rail: "x", Value: 5, Uncertainty: .1}
	return &capture.Return{Job: "AB-0101", Left: 3, Rails: []capture.ReturnRail{{Rail: "x", Quantity: capture.DCVoltage, Left: r, Back: r, Difference: 1, Uncertainty: .2, Moved: true, Say: "Up"}, {Rail: "y", Left: r, Say: "Not measured yet"}}}, nil
}

func (paperEntries) OpenHandover(string) (Handover, bool) {
	return Handover{Job: "AB-0147", URL: "https://192.168.1.20:8471/t", Fingerprint: "3F:2A", Received: 1}, true
}
