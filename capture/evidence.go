package capture

import "time"

// Bucket summarises the readings of one channel that were answered in
// [From, To). Min and Max are exact for what the bucket covers, so that a dip
// is never averaged away. A bucket with N = 0 is a hole, not a zero.
type Bucket struct {
	From Instant `json:"from"`
	To   Instant `json:"to"`
	N    int     `json:"n"`    // readings with a value
	Bad  int     `json:"bad"`  // readings without one
	Min  float64 `json:"min"`  // base unit
	Max  float64 `json:"max"`  // base unit
	Mean float64 `json:"mean"` // base unit
	Last float64 `json:"last"` // base unit
}

// Head names a state of a job's hash chain: how many records it covers, the
// instant of the last, and the hash.
type Head struct {
	Count uint64  `json:"count"`
	Last  Instant `json:"last"`
	Hash  string  `json:"hash"` // SHA-256, lower-case hexadecimal
}

// Entry is a dated item of the job for people: a note, a lift, a typed
// reading, a finding, a change of stage.
type Entry struct {
	At    Instant `json:"at"`
	Stage Stage   `json:"stage"`
	Act   Act     `json:"act"`
	Text  string  `json:"text"` // one sentence
}

// StageSpan is a stretch of the job spent in one stage.
type StageSpan struct {
	Stage  Stage   `json:"stage"`
	From   Instant `json:"from"`
	To     Instant `json:"to"` // 0 while it lasts
	Reason string  `json:"reason,omitempty"`
}

// Result is a measured figure with everything that may be said about it.
type Result struct {
	Rail        string        `json:"rail"`
	Stage       Stage         `json:"stage"`
	Quantity    Quantity      `json:"quantity"`
	Value       float64       `json:"value"`                 // base unit: a reading, or the mean of N
	Resolution  float64       `json:"resolution"`            // base unit
	Uncertainty float64       `json:"uncertainty,omitempty"` // expanded, k = 2 or more; 0: not stated
	Flags       Flags         `json:"flags,omitempty"`
	Channel     ChannelID     `json:"channel"`
	Point       string        `json:"point,omitempty"`
	Return      string        `json:"return,omitempty"`
	At          Instant       `json:"at"` // of the last reading
	Span        time.Duration `json:"span"`
	N           int           `json:"n"`
	Outcome     Outcome       `json:"outcome"`
	Say         string        `json:"say"` // "Inside", "0.84 Ω: short", "Cannot tell: ..."
}

// Watch says how well a channel watched a rail over a span, and no more.
type Watch struct {
	Channel    ChannelID     `json:"channel"`
	From       Instant       `json:"from"`
	To         Instant       `json:"to"`
	N          int           `json:"n"`
	Bad        int           `json:"bad"`
	Mean       float64       `json:"mean"`
	SD         float64       `json:"sd"`
	Min        float64       `json:"min"`
	MinAt      Instant       `json:"min_at"`
	Max        float64       `json:"max"`
	MaxAt      Instant       `json:"max_at"`
	Lag1       float64       `json:"lag1"`        // autocorrelation at lag one
	Effective  float64       `json:"effective_n"` // readings that count as independent
	Resolution float64       `json:"resolution"`
	Outside    int           `json:"outside"`  // good readings outside the rail's band
	Observed   float64       `json:"observed"` // sum of apertures over span: 0 to 1; 0 when the aperture is not known
	Answered   float64       `json:"answered"` // intervals with a reading: share of the polls that were due; says nothing about how long the meter looked; 0: not known
	Aperture   time.Duration `json:"aperture"`
	Interval   time.Duration `json:"interval"` // median spacing of good readings
	LongestGap time.Duration `json:"longest_gap"`
	GapAt      Instant       `json:"gap_at"`
	SureDip    time.Duration `json:"sure_dip"` // shortest dip of DipDepth that could not have been missed
	DipDepth   float64       `json:"dip_depth"`
	Chance     []DipChance   `json:"chance"`           // for 10, 50 and 100 ms
	Point      string        `json:"point,omitempty"`  // what was watched when it is no rail: "stand-in case"
	Heat       string        `json:"heat,omitempty"`   // of a temperature: whether collapses came with it
	Series     []Bucket      `json:"series,omitempty"` // of a point that is no rail; a rail's stand in [RailEvidence]
}

// DipChance is the probability that a single dip of this length and of
// [Watch.DipDepth] would have been seen.
type DipChance struct {
	Length time.Duration `json:"length"`
	Seen   float64       `json:"seen"`
}

// RailEvidence is what the record says about one rail.
type RailEvidence struct {
	Rail   Rail     `json:"rail"`
	Before []Result `json:"before"` // as found: cold and live checks
	After  []Result `json:"after"`  // under load, warm
	// Reversed is the cold resistance as found with the leads exchanged; nil: not read.
	Reversed *Result `json:"reversed,omitempty"`
	// Dead is the newest voltage without power, "Dead" or "Not dead"; nil: not read.
	Dead     *Result   `json:"dead,omitempty"`
	Verdicts []Verdict `json:"verdicts"`
	Watches  []Watch   `json:"watches"` // of the soak, or of the warm-up when there was none
	Series   []Bucket  `json:"series"`  // of the watched span
	// Trim says what fitting a converter did, and what the load alone does: the
	// fit-in shift and the load regulation, each with its uncertainty.
	Trim []string `json:"trim,omitempty"`
	// Soak is the rail's figure of the soak; nil when no clip gave enough readings.
	Soak   *SoakFigure `json:"soak,omitempty"`
	Trends []Trend     `json:"trends,omitempty"` // of its clips over the watched span
}

// SoakFigure is what a soak says about a rail's level: the worst of the means
// over a window, held against the band. A single excursion is no matter of a
// mean; alarms tell of those.
type SoakFigure struct {
	Result                // the worst window
	Window  time.Duration `json:"window"`  // at least so long each
	Windows int           `json:"windows"` // that were judged
	Inside  int           `json:"inside"`  // of these; the others are doubtful
	Outside int           `json:"outside"` // or certainly outside
}

// AlarmStory is one occurrence of an alarm from first to last transition.
type AlarmStory struct {
	Alarm       string       `json:"alarm"`
	Rule        string       `json:"rule"`
	Kind        string       `json:"kind"`
	Rail        string       `json:"rail"`
	Severity    Severity     `json:"severity"`
	Raised      Instant      `json:"raised"`
	Cleared     Instant      `json:"cleared"` // 0: still there
	Heard       Instant      `json:"heard"`   // 0: not heard
	Say         string       `json:"say"`
	First       string       `json:"first,omitempty"`   // which rail fell before this one: "+12 V audio fell first, within 0.2 s"
	Follows     string       `json:"follows,omitempty"` // the alarm it is a consequence of: of a supply that was found off
	Transitions []Transition `json:"transitions"`
	Around      []Point2     `json:"around"` // the readings about it, for the drawing
}

// Untold returns why nobody was told that the alarm came, as it was recorded at
// its first coming: "+5 V logic feeds it". It is empty when somebody was told at
// any time, or when no transition is known.
func (a AlarmStory) Untold() string {
	why := ""
	for _, t := range a.Transitions {
		switch {
		case !t.To.IsActive():
		case t.Muted == "":
			return ""
		case why == "":
			why = t.Muted
		}
	}
	return why
}

// Standing reports whether an alarm is not over: its condition is there, or it
// has gone and a person who was told has not yet said that it was heard, or not
// reset its latch. An alarm that nobody was told of is over with its condition.
func (a AlarmStory) Standing() bool {
	if len(a.Transitions) == 0 {
		return a.Cleared.IsZero()
	}
	last := a.Transitions[len(a.Transitions)-1].To
	return last.IsActive() || last != Normal && a.Untold() == ""
}

// Point2 is a reading on a drawing.
type Point2 struct {
	At    Instant `json:"at"`
	Value float64 `json:"value"`
	Good  bool    `json:"good"`
}

// SoakEvidence is what a soak lasted and what it proves.
type SoakEvidence struct {
	From     Instant       `json:"from"`
	To       Instant       `json:"to"`
	Planned  time.Duration `json:"planned"`
	Watched  time.Duration `json:"watched"`       // without the blind intervals
	Pieces   int           `json:"pieces"`        // 1: in one piece
	Parts    []SoakPart    `json:"parts"`         // in order: what was watched without a break; what counts of them comes to Watched
	Off      time.Duration `json:"off,omitempty"` // nanoseconds: what its plan had off, besides
	Failures int           `json:"failures"`
	Passed   bool          `json:"passed"`
	Say      []string      `json:"say"` // plain sentences, the Poisson bound among them
}

// SoakPart is a stretch of a soak that was watched without a break.
type SoakPart struct {
	From Instant       `json:"from"`
	To   Instant       `json:"to"`
	Idle time.Duration `json:"idle,omitempty"` // nanoseconds of it that do not count: power was off as planned, or it warmed up
}

// Long is how much of a part counts, so that the parts of a soak come to what was
// watched of it.
func (p SoakPart) Long() time.Duration { return p.To.Sub(p.From) - p.Idle }

// Dossier is everything a report prints, computed from the record alone.
type Dossier struct {
	Sheet      Sheet          `json:"sheet"`
	Roster     Roster         `json:"roster"`
	From       Instant        `json:"from"`
	To         Instant        `json:"to"`
	Stages     []StageSpan    `json:"stages"`
	Entries    []Entry        `json:"entries"`
	Rails      []RailEvidence `json:"rails"`
	Points     []Watch        `json:"points"` // temperatures and the like
	Soak       *SoakEvidence  `json:"soak,omitempty"`
	Alarms     []AlarmStory   `json:"alarms"`
	Gaps       []Gap          `json:"gaps"`
	Judged     []Judged       `json:"judged,omitempty"` // the final figure of each rail that has one
	NotChecked []string       `json:"not_checked"`
	Rules      RuleSet        `json:"rules"`
	Head       Head           `json:"head"`
	Broken     string         `json:"broken,omitempty"` // why the chain does not verify; empty: it does, or was not checked

	StandIns []StandInJudged `json:"stand_ins,omitempty"` // judged to take a dead one's place, the newest of each

	Outputs []OutputEvidence `json:"outputs,omitempty"` // of supplies that were found off
}

// OutputEvidence is what was judged of a supply's output, and of no rail.
type OutputEvidence struct {
	Output  string   `json:"output"` // "supply" or "supply/1"
	Rails   []string `json:"rails"`  // that may hang on it, in the order of the sheet
	Verdict Verdict  `json:"verdict"`
}
