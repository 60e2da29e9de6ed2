package live

import (
	"time"

	"steadyrail/capture"
)

// Snapshot is the bench as it is now: a deep copy that its taker owns.
type Snapshot struct {
	Now         capture.Instant
	Bench       string
	Simulated   bool    // instruments and clock are simulated
	Speed       float64 // bench seconds per second; 1 on a real bench
	Jobs        []JobView
	Channels    []ChannelView
	Instruments []InstrumentView
	Notifiers   []NotifierView
	Notices     []string // sentences about the bench itself that must not be missed
	Version     uint64   // grows with every change
}

// Job returns the view of a job, or of the one opened last when id is empty.
func (s Snapshot) Job(id string) (JobView, bool) {
	for i := len(s.Jobs) - 1; i >= 0; i-- {
		if id == "" || s.Jobs[i].Sheet.Job == id {
			return s.Jobs[i], true
		}
	}
	return JobView{}, false
}

// JobView is one open job.
type JobView struct {
	Sheet      capture.Sheet
	Stage      capture.Stage
	StageSince capture.Instant
	Stages     []capture.StageSpan
	Soak       *SoakView // nil when none was started
	Rails      []RailView
	Points     []PointView           // what is measured besides rails: case temperature, the supply's read-back
	Derived    []capture.Derived     // what its formulas come to now
	Alarms     []capture.Transition  // the latest transition of every alarm that is not normal, worst first
	Courses    []capture.AlarmCourse // of these, in order of raising
	Mutes      capture.Mutes         // in force
	Past       []capture.Transition  // the latest transition of alarms that ended, newest first, at most 50
	Entries    []capture.Entry       // newest last, at most 200
	Cautioned  []string              // keys of the cautions that were read
	Off        []capture.OffSpan     // when there was to be no power, of the whole job; not to be changed
	Trips      map[string]string     // output that the alarm of a rule switches off, by the rule's name; not to be changed
}

// SoakView is the soak under way or the last one.
type SoakView struct {
	From, To capture.Instant // To is 0 while it lasts
	Planned  float64         // seconds; 0: open end
}

// RailView is a rail with the newest of what is known about it.
type RailView struct {
	Rail      capture.Rail
	Volts     *Last // newest reading in volt filed under the rail
	Ohms      *Last // newest reading in ohm filed under the rail
	Live      bool  // a channel stands on the rail now
	Placement capture.Placement
	Verdicts  []capture.Verdict // one for each rule of the rail
	Trace     []capture.Bucket  // the last 10 minutes, at most 120 buckets, of the volts
}

// PointView is something measured that is no rail.
type PointView struct {
	Channel   capture.ChannelID
	Placement capture.Placement
	Last      *Last
	Trace     []capture.Bucket
}

// Last is the newest reading of something and when it was answered.
type Last struct {
	At      capture.Instant
	Reading capture.Reading
}

// ChannelView is a channel, whether it serves a job or not.
type ChannelView struct {
	Info     capture.ChannelInfo
	Job      string // "" when it serves none
	Last     *Last
	LastGood capture.Instant
	Outcomes map[string]uint64 // by capture.Outcomes
	Selected bool              // polled now
	Exchange float64           // seconds the last exchange took
}

// InstrumentView is an instrument and its link.
type InstrumentView struct {
	Info    capture.InstrumentInfo
	Up      bool
	Problem string // why it is not up, and what to do
	Resyncs uint64
	// Doubtful: it is up, but nobody knows which meter answers. Its readings
	// belong to no rail until a person touches one with it.
	Doubtful bool
	Tapping  bool // that touch is being waited for; Problem says what to do
}

// NotifierView is how a notifier fares.
type NotifierView struct {
	Name    string
	Kind    string
	Queued  int
	Sent    uint64
	Tests   uint64 // tests that arrived; they are not in Sent
	Failed  uint64 // given up or pushed out of a full queue
	Urgent  uint64 // of those, the urgent ones
	Problem string
	Tried   bool          // there was an attempt: whether it works is known
	Failing time.Duration // wall time since the newest attempts began to fail; 0 while they do not
}

// Lost reports whether what is told does not arrive.
func (n NotifierView) Lost() bool { return n.Problem != "" }
