package dashboards

import (
	"context"
	"io"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// Bench is what the screens and the API show and do. In every method an empty
// job means the one opened last. All methods must be safe for concurrent use
// and return errors of type [*Error] where they know the kind.
type Bench interface {
	Watcher
	Archive
	Actor
	Earther
	Switcher
}

// Watcher tells the present.
type Watcher interface {
	// Snapshot returns the bench as it is now; the caller owns the copy.
	Snapshot() live.Snapshot
	// Subscribe returns a channel that receives after a change. It has room
	// for one signal and never a queue; cancel gives it up and must be called.
	Subscribe() (changed <-chan struct{}, cancel func())
}

// Archive tells the past.
type Archive interface {
	// Jobs lists every job of the workspace, newest first.
	Jobs(ctx context.Context) ([]JobSummary, error)
	// Series returns at most points buckets of what was read on a rail in
	// [from, to). A to of 0 means now, a from of 0 the beginning of the job.
	Series(ctx context.Context, job, rail string, quantity capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error)
	// Transitions returns every step of every alarm of a job, in order.
	Transitions(ctx context.Context, job string) ([]capture.Transition, error)
	// ExportCSV writes every reading of a job as CSV, in the dialect of a decimal
	// sign.
	ExportCSV(ctx context.Context, job string, mark capture.DecimalMark, w io.Writer) error
	// Report writes the self-contained HTML report of a job.
	Report(ctx context.Context, job string, w io.Writer) error
}

// Actor does things. Each act is recorded under the name in By; when By is
// empty the job's technician is meant.
type Actor interface {
	// OpenJob opens a job; the sheet's rails are complete.
	OpenJob(ctx context.Context, sheet capture.Sheet) (Result, error)
	// Place records that a channel stands on a rail from now on, or corrects an
	// earlier placement.
	Place(ctx context.Context, job string, p capture.Placement) (Result, error)
	// Enter records a value that was read by eye and typed.
	Enter(ctx context.Context, job string, t Typed) (Result, error)
	// Act does everything that [capture.Act] has a verb for: note, stage, soak,
	// heard, reset latch, mute, output, limits, null, turn, lift, put back,
	// finding and close. The subject of heard, reset latch and mute is the
	// alarm's identity; that of output and limits the instrument's name. An
	// output goes on by [Switcher.SwitchOn] alone.
	Act(ctx context.Context, job string, act capture.Act) (Result, error)
	// TestNotifier sends a message that says it is a test to the notifier of that
	// name and says what came back and how long it took, in wall time.
	TestNotifier(ctx context.Context, name string) (Result, error)
	// Reload reads the configuration again; the old world stays when it fails,
	// or says that it cannot.
	Reload(ctx context.Context) (Result, error)
}

// Result says what an act came to.
type Result struct {
	Job string          `json:"job,omitempty"`
	At  capture.Instant `json:"at,omitempty"` // instant of its record; 0: none was made
	Say string          `json:"say"`          // one sentence: "Output of supply is off, read back 12 ms later."
}

// Typed is a value that a person read from a display.
type Typed struct {
	Rail     string           `json:"rail"`               // its name, or its number on the sheet from 1
	Text     string           `json:"text"`               // "5.02", "OL", "5,02", "0.84 ohm"; the digits give the resolution
	Quantity capture.Quantity `json:"quantity,omitempty"` // none: from the unit typed, else dc_voltage
	Meter    string           `json:"meter,omitempty"`    // instrument it was read from; empty: not said
	Point    string           `json:"point,omitempty"`
	By       string           `json:"by,omitempty"`
	Sure     bool             `json:"sure,omitempty"` // it is so, however unlikely: no [Doubt] is raised
	// InsteadOf moves the newest value read by eye from this rail to Rail. Text is
	// empty then: nothing is typed anew.
	InsteadOf string `json:"instead_of,omitempty"`
	Why       string `json:"why,omitempty"` // reason of the move
}

// Doubt is the refusal of a typed value that is unlikely as it stands, until one
// of the choices is made. Nothing was entered.
type Doubt struct {
	Question string   // "12.07 V is far from +5 V logic ...: is it +12 V audio (2)?"
	Choices  []Choice // what may be meant; the last is what was typed, with Sure
	State    bool     // it does not fit what was measured or the stage: a [Conflict]
}

// Choice is what may be meant, and what to enter then.
type Choice struct {
	Label string
	Typed Typed
}

// Error asks.
func (d *Doubt) Error() string { return d.Question }

// JobSummary is a line of the list of jobs.
type JobSummary struct {
	Job   string `json:"job"`
	Set   string `json:"set,omitempty"`
	Board string `json:"board,omitempty"`
	// SerialNumber is that of the set.
	SerialNumber string          `json:"serial_number,omitempty"`
	Symptom      string          `json:"symptom,omitempty"`
	Stage        capture.Stage   `json:"stage,omitempty"`
	Opened       capture.Instant `json:"opened,omitempty"`
	Closed       capture.Instant `json:"closed,omitempty"` // 0: open
	Bytes        int64           `json:"bytes,omitempty"`  // of its file
}
