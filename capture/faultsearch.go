package capture

// ActTried is the act of a test that no channel reads by itself: source alone,
// load alone, a lifted part by itself, a point of a millivolt walk. Subject is
// what it is about, Text the line of the isolation's log as it was written:
// "source +5 V logic ok".
const ActTried Verb = "tried"

// ActBoard is the act of giving the job a board sheet. Subject is the board's
// name, Text the whole sheet, so that the record explains itself. The newest
// one counts.
const ActBoard Verb = "board sheet"

// ActAnew is the act of isolating anew: what was read before does not count any
// more, for the board is another one since. Text says why.
const ActAnew Verb = "isolate anew"

// FaultSearch is what the record of a job says about where its fault is. Shares
// are parts of one. It is computed anew from the record whenever it is asked for.
type FaultSearch struct {
	Job            string               `json:"job,omitempty"`
	Board          string               `json:"board,omitempty"` // name on the sheet; empty: the job has none, and nothing is ranked
	Say            string               `json:"say"`             // the news, a sentence
	Since          Instant              `json:"since,omitempty"` // what was read before does not count
	TwoByTwo       []TwoByTwo           `json:"two_by_two"`
	Ledger         []LedgerLine         `json:"ledger"`
	Limits         []LiftLimit          `json:"limits"`       // what a lift could tell now, by rail
	Explanations   []IsolateExplanation `json:"explanations"` // the likeliest first, those below half a per cent left out
	Next           *NextEntry           `json:"next,omitempty"`
	Contradictions []string             `json:"contradictions"`
	Figures        []string             `json:"figures,omitempty"` // readings after a lift that are not what the sheet leaves there: it may be of another revision
	Walks          []ShortWalk          `json:"walks"`
	Off            []string             `json:"off"`       // parts that are off the board now
	Unused         []UnusedReading      `json:"unused"`    // what was read and does not count, with why
	UnusedBy       []UnusedGroup        `json:"unused_by"` // the same in short, by reason
	Sensitivity    string               `json:"sensitivity,omitempty"`
	Trust          string               `json:"trust,omitempty"` // how often such shares were right
	Minutes        float64              `json:"minutes"`         // of the work so far, as reckoned
	Entries        []string             `json:"entries"`         // the log that was weighed, a line each
}

// TwoByTwo is the first question about a rail, without any probability: its
// source alone on a dummy load, its load alone on the bench supply.
type TwoByTwo struct {
	Rail   string       `json:"rail"`
	Source string       `json:"source,omitempty"`     // ok, not ok; empty: not tried
	Load   string       `json:"load,omitempty"`       // the one that was tried
	Loaded string       `json:"load_alone,omitempty"` // ok, not ok; empty: not tried
	Say    string       `json:"say"`
	Cells  []TwoByCell  `json:"cells"` // ok and ok, ok and not, not and ok, not and not
	Try    []TryingTest `json:"try"`   // the tests that are still open, as lines of the log without their answer
}

// Decided reports whether both tests were made.
func (t TwoByTwo) Decided() bool { return t.Source != "" && t.Loaded != "" }

// TwoByCell is what one outcome of the two tests says.
type TwoByCell struct {
	Source string `json:"source"`
	Loaded string `json:"load_alone"`
	Say    string `json:"say"`
	Open   bool   `json:"open"` // the tests made so far do not exclude it
	Here   bool   `json:"here"` // both were made, and this is it
}

// TryingTest is a test by its line in the log.
type TryingTest struct {
	Line string `json:"line"` // "source +5 V logic"
	Say  string `json:"say"`
}

// LedgerLine is one lift: a resistance to the return before and after it.
type LedgerLine struct {
	At         Instant `json:"at"`
	Part       string  `json:"part"`
	Rail       string  `json:"rail"`
	Before     float64 `json:"before"`          // ohm; 0: not read
	After      float64 `json:"after"`           // ohm; 0: not read
	Open       bool    `json:"open,omitempty"`  // open after the lift: After means nothing
	Alone      float64 `json:"alone,omitempty"` // ohm of the part by itself; 0: not read
	Share      float64 `json:"share"`           // of the conductance that left
	Low        float64 `json:"share_low"`
	High       float64 `json:"share_high"`
	Word       string  `json:"word"` // convicted, acquitted, cannot tell, something else changed, not judged
	Say        string  `json:"say"`
	Back       bool    `json:"back,omitempty"` // it was put back since
	BeforeText string  `json:"before_text"`    // with its unit
	AfterText  string  `json:"after_text"`
	Could      string  `json:"could,omitempty"`  // what the lift could have told, as it was to be known before it
	Change     string  `json:"change,omitempty"` // after it was put back something else than before stands there
}

// LiftLimit is what a lift could tell while a rail stands as it does.
type LiftLimit struct {
	Rail     string  `json:"rail"`
	Standing float64 `json:"standing"` // ohm
	Highest  float64 `json:"highest"`  // ohm of a branch whose lifting shows
	Say      string  `json:"say"`
}

// IsolateExplanation is something that may be wrong, and how large its share is.
type IsolateExplanation struct {
	Say    string         `json:"say"`
	Share  float64        `json:"probability"`      // 0 to 0.99
	Faults []IsolateFault `json:"faults,omitempty"` // empty: no fault, or not on the sheet
	Other  bool           `json:"other,omitempty"`  // something that is not on the sheet
}

// IsolateFault is a part that failed in one way.
type IsolateFault struct {
	Part string `json:"part"`
	Kind string `json:"kind"`
}

// NextEntry is what to do next, and why.
type NextEntry struct {
	Say     string  `json:"say"`     // one sentence
	Why     string  `json:"why"`     // what it would tell
	Could   string  `json:"could"`   // of a lift: what it cannot tell; empty otherwise
	Minutes float64 `json:"minutes"` // of work, as reckoned
	Bits    float64 `json:"bits"`    // expected drop of entropy
	Lift    string  `json:"lift,omitempty"`
	Line    string  `json:"line,omitempty"` // of a test by hand: the log's line without its answer
}

// ShortWalk is what a millivolt walk says about the place of a short.
type ShortWalk struct {
	Rail    string      `json:"rail"`
	Word    string      `json:"word"` // between, at, beyond, before, cannot tell
	Say     string      `json:"say"`
	Between []string    `json:"between,omitempty"` // two points
	At      float64     `json:"at,omitempty"`      // metre along the trace
	Low     float64     `json:"low,omitempty"`     // its interval, 95 %
	High    float64     `json:"high,omitempty"`
	Points  []WalkPoint `json:"points"`
}

// WalkPoint is one point of a walk.
type WalkPoint struct {
	Name  string  `json:"name"`
	At    float64 `json:"at"`    // metre along the trace; 0 throughout: only the order is known
	Volts float64 `json:"volts"` // mean of the readings
	N     int     `json:"n"`
}

// GoodInterval is where a rail's resistance lies on boards that are well, in one
// polarity, base unit ohm.
type GoodInterval struct {
	Rail     string     `json:"rail"`
	Reversed bool       `json:"reversed,omitempty"` // with the leads exchanged
	N        int        `json:"n"`
	Middle   float64    `json:"middle,omitempty"` // geometric mean; 0: not enough boards
	Low      float64    `json:"low,omitempty"`
	High     float64    `json:"high,omitempty"`
	K        float64    `json:"k,omitempty"` // factor of the standard deviation of the logarithms
	Say      string     `json:"say"`
	Readings []OddBoard `json:"readings"`
	Odd      []OddBoard `json:"odd"` // outside the interval of the others
}

// OddBoard is one board's reading.
type OddBoard struct {
	Board string  `json:"board"`
	Ohms  float64 `json:"ohms"`
}
