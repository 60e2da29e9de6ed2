package dashboards

import (
	"strconv"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// The shapes of the API. Instants are integer microseconds since 1970-01-01
// UTC, everywhere. The promise is additive: members are added, never changed.

// number is a value with its digits. Value is null when there is none: JSON
// would turn 5.020 to 5.02, so Text keeps the digits the instrument gave.
type number struct {
	Value      *float64 `json:"value"`
	Text       string   `json:"text"`       // plain digits with a point and "-", "" without a value
	Resolution float64  `json:"resolution"` // base unit, one count of the last digit; 0: not known
	Unit       string   `json:"unit"`
}

func numberOf(v, resolution float64, u capture.Unit) number {
	return number{Value: &v, Text: strconv.FormatFloat(v, 'f', capture.Decimals(resolution, v), 64), Resolution: resolution, Unit: u.ASCII()}
}

// readingShape is a reading with its age.
type readingShape struct {
	number
	At      capture.Instant   `json:"at"`
	Age     float64           `json:"age_seconds"` // bench time
	Present bool              `json:"present"`     // young enough to be the present value
	Channel capture.ChannelID `json:"channel"`
	Flags   capture.Flags     `json:"flags"`
	Ordinal uint64            `json:"ordinal,omitempty"`
}

func readingOf(s live.Snapshot, l *live.Last) *readingShape {
	if l == nil {
		return nil
	}
	out := &readingShape{At: l.At, Age: s.Age(l).Seconds(), Present: s.Present(l), Channel: l.Reading.Channel, Flags: l.Reading.Flags, Ordinal: l.Reading.Ordinal}
	u := l.Reading.Quantity.Unit()
	out.number = number{Resolution: l.Reading.Resolution, Unit: u.ASCII()}
	if l.Reading.HasValue() {
		out.number = numberOf(l.Reading.Value, l.Reading.Resolution, u)
	}
	return out
}

type railShape struct {
	Rail      capture.Rail       `json:"rail"`
	Live      bool               `json:"live"` // a channel stands on it
	Placement *capture.Placement `json:"placement,omitempty"`
	Volts     *readingShape      `json:"volts"`
	Ohms      *readingShape      `json:"ohms"`
	Verdicts  []verdictShape     `json:"verdicts"`
}

type verdictShape struct {
	Rule        string            `json:"rule"`
	Kind        string            `json:"kind"`
	Outcome     capture.Outcome   `json:"outcome"`
	Word        string            `json:"word"` // yes, cannot tell, no, no data
	Say         string            `json:"say"`
	Uncertainty float64           `json:"uncertainty,omitempty"` // expanded, k = 2 or more, base unit
	Probability float64           `json:"probability,omitempty"`
	Indicated   bool              `json:"indicated,omitempty"`
	Overdue     bool              `json:"overdue,omitempty"`
	Note        string            `json:"note,omitempty"`
	Channel     capture.ChannelID `json:"channel,omitempty"`
	N           int               `json:"n,omitempty"`
	Held        capture.HeldWord  `json:"held,omitzero"` // decided before, where nothing can be judged now
}

type pointShape struct {
	Channel   capture.ChannelID `json:"channel"`
	Placement capture.Placement `json:"placement"`
	Reading   *readingShape     `json:"reading"`
}

// benchShape is the bench in short: what /rails answers and the stream sends.
type benchShape struct {
	Now        capture.Instant      `json:"now"`
	Bench      string               `json:"bench"`
	Simulated  bool                 `json:"simulated"`
	Speed      float64              `json:"speed"`
	Version    uint64               `json:"version"`
	Job        string               `json:"job"` // "" when none is open
	Stage      capture.Stage        `json:"stage,omitempty"`
	StageSince capture.Instant      `json:"stage_since,omitempty"`
	Rails      []railShape          `json:"rails"`
	Points     []pointShape         `json:"points"`
	Alarms     []capture.Transition `json:"alarms"` // open ones, worst first
	Mutes      capture.Mutes        `json:"mutes"`  // in force
}

func benchOf(s live.Snapshot, job string) (benchShape, error) {
	b := benchShape{Now: s.Now, Bench: s.Bench, Simulated: s.Simulated, Speed: s.Speed, Version: s.Version, Rails: []railShape{}, Points: []pointShape{}, Alarms: []capture.Transition{}, Mutes: capture.Mutes{}}
	j, ok := s.Job(job)
	if !ok {
		if job != "" {
			return b, noOpenJob(job)
		}
		return b, nil
	}
	b.Job, b.Stage, b.StageSince = j.Sheet.Job, j.Stage, j.StageSince
	for _, rv := range j.Rails {
		b.Rails = append(b.Rails, railOf(s, rv))
	}
	for _, p := range j.Points {
		b.Points = append(b.Points, pointShape{p.Channel, p.Placement, readingOf(s, p.Last)})
	}
	b.Alarms = append(b.Alarms, j.Alarms...)
	b.Mutes = append(b.Mutes, j.Mutes...)
	return b, nil
}

func railOf(s live.Snapshot, rv live.RailView) railShape {
	out := railShape{Rail: rv.Rail, Live: rv.Live, Volts: readingOf(s, rv.Volts), Ohms: readingOf(s, rv.Ohms), Verdicts: []verdictShape{}}
	if rv.Live {
		out.Placement = &rv.Placement
	}
	for _, v := range rv.Verdicts {
		out.Verdicts = append(out.Verdicts, verdictShape{Rule: v.Rule, Kind: v.Kind, Outcome: v.Outcome, Word: v.Outcome.Word(), Say: v.Say, Uncertainty: v.Uncertainty, Probability: v.Probability, Indicated: v.Indicated, Overdue: v.Overdue, Note: v.Note, Channel: v.Channel, N: v.N, Held: v.Held})
	}
	return out
}

type placementShape struct {
	Job       string            `json:"job"` // "" when the channel serves none
	Selected  bool              `json:"selected"`
	Quantity  capture.Quantity  `json:"quantity"`
	Placement capture.Placement `json:"placement"`
}

// placementsOf lists where every channel is now.
func placementsOf(s live.Snapshot) []placementShape {
	on := map[capture.ChannelID]capture.Placement{}
	for _, j := range s.Jobs {
		for _, rv := range j.Rails {
			if rv.Live {
				on[rv.Placement.Channel] = rv.Placement
			}
		}
		for _, p := range j.Points {
			on[p.Channel] = p.Placement
		}
	}
	out := []placementShape{}
	for _, c := range s.Channels {
		p := on[c.Info.ID]
		p.Channel = c.Info.ID
		out = append(out, placementShape{Job: c.Job, Selected: c.Selected, Quantity: c.Info.Quantity, Placement: p})
	}
	return out
}

type instrumentShape struct {
	Info    capture.InstrumentInfo `json:"info"`
	Up      bool                   `json:"up"`
	Problem string                 `json:"problem,omitempty"`
	Resyncs uint64                 `json:"resyncs"`
	Inputs  []channelShape         `json:"channels"`
}

type channelShape struct {
	Channel  capture.ChannelID `json:"channel"`
	Job      string            `json:"job"`
	Selected bool              `json:"selected"`
	Last     *readingShape     `json:"last"`
	Outcomes map[string]uint64 `json:"outcomes"`
	Exchange float64           `json:"exchange_seconds"`
}

func instrumentsOf(s live.Snapshot) []instrumentShape {
	out := []instrumentShape{}
	for _, in := range s.Instruments {
		i := instrumentShape{Info: in.Info, Up: in.Up, Problem: in.Problem, Resyncs: in.Resyncs, Inputs: []channelShape{}}
		for _, c := range s.Channels {
			if c.Info.ID.Instrument() == in.Info.Name {
				i.Inputs = append(i.Inputs, channelShape{Channel: c.Info.ID, Job: c.Job, Selected: c.Selected, Last: readingOf(s, c.Last), Outcomes: c.Outcomes, Exchange: c.Exchange})
			}
		}
		out = append(out, i)
	}
	return out
}

func noOpenJob(job string) error {
	return &Error{Kind: NotFound, Detail: "no open job " + clip(job), Hint: "the jobs stand in /api/v1/jobs"}
}
