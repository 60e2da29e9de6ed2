package live_test

import (
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const start = capture.Instant(1_900_000_000_000_000)

// script feeds a table records of one job at chosen seconds.
type script struct {
	t   testing.TB
	tab *live.Table
	job string
}

func at(seconds float64) capture.Instant {
	return start.Add(time.Duration(seconds * float64(time.Second)))
}

func (s script) put(seconds float64, items ...capture.Item) {
	for _, it := range items {
		s.tab.Consume(capture.Record{At: at(seconds), Job: s.job, Item: it})
	}
}

func (s script) volts(seconds, v float64, flags ...capture.Flags) {
	r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: 0.001}
	for _, f := range flags {
		r.Flags |= f
	}
	s.put(seconds, r)
}

func board(job string) capture.Sheet {
	return capture.Sheet{Job: job, Set: "Alderbrook 88", Rails: []capture.Rail{
		{Name: "+5 V logic", Nominal: 5, Target: 5, Feeds: []string{"CN3"}},
		{Name: "+12 V audio", Nominal: 12, Target: 12},
	}, NotChecked: []string{"ripple"}}
}

func bench() capture.Roster {
	return capture.Roster{Instruments: []capture.InstrumentInfo{
		{Name: "dmm", Channels: []capture.ChannelInfo{
			{ID: "dmm/volts", Quantity: capture.DCVoltage, Group: "input", Accuracy: []capture.Accuracy{{Range: 10}}},
			{ID: "dmm/ohms", Quantity: capture.Resistance, Group: "input"},
		}, Acts: []string{"output"}},
		{Name: "supply", Channels: []capture.ChannelInfo{
			{ID: "supply/volts", Quantity: capture.DCVoltage, Setpoint: true},
		}},
		{Name: "thermo", Channels: []capture.ChannelInfo{{ID: "thermo/celsius", Quantity: capture.Temperature}}},
	}}
}

func on(ch capture.ChannelID, rail string) capture.Placement {
	return capture.Placement{Channel: ch, Rail: rail, Hold: capture.Clipped}
}

// opened returns a table with one job and its probe on +5 V.
func opened(t testing.TB) script {
	s := script{t, live.New("east", true, nil), "AB-0147"}
	s.put(0, board("AB-0147"), bench(), capture.Act{Verb: capture.ActOpen}, on("dmm/volts", "+5 V logic"))
	return s
}

func (s script) view() live.JobView {
	s.t.Helper()
	v, ok := s.tab.Snapshot().Job(s.job)
	if !ok {
		s.t.Fatalf("job %s is not there", s.job)
	}
	return v
}

func (s script) rail(name string) live.RailView {
	s.t.Helper()
	for _, r := range s.view().Rails {
		if r.Rail.Name == name {
			return r
		}
	}
	s.t.Fatalf("no rail %s", name)
	return live.RailView{}
}
