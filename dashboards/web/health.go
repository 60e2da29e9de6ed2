package web

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// Health is a look at the whole bench.
type Health struct {
	At       capture.Instant `json:"at"`
	Findings []HealthFinding `json:"findings"`
}

// HealthFinding is what one look found.
type HealthFinding struct {
	LookedAt string `json:"looked_at"`
	Found    string `json:"found"`
	Do       string `json:"do,omitempty"`
	Grade    string `json:"grade"` // fine, note, attend, wrong or fails
	ToDo     bool   `json:"to_do"` // somebody should look after it
}

// Configuration is what is in force, and what a reload would come to.
type Configuration struct {
	File      string          `json:"file,omitempty"`
	Bench     string          `json:"bench"`
	Loaded    capture.Instant `json:"loaded"`
	CanReload bool            `json:"can_reload"`
	Changes   []string        `json:"changes,omitempty"`           // that a reload would put in force
	Waits     []string        `json:"waits_for_restart,omitempty"` // what else differs
	Problems  []ConfigProblem `json:"problems,omitempty"`          // of the file: a reload would change nothing
	Refused   string          `json:"refused,omitempty"`           // why a reload of a file that is right would change nothing
}

// ConfigProblem is one thing that is wrong with the file.
type ConfigProblem struct {
	File string `json:"file"`
	Line int    `json:"line,omitempty"` // 0: the whole file
	Key  string `json:"key,omitempty"`
	What string `json:"what"`
	Hint string `json:"hint,omitempty"`
}

// Where is the place of a problem, file:line.
func (p ConfigProblem) Where() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d", p.File, p.Line)
}

// String prints file:line: key: what (hint).
func (p ConfigProblem) String() string {
	text := p.Where()
	if p.Key != "" {
		text += ": " + p.Key
	}
	text += ": " + p.What
	if p.Hint != "" {
		text += " (" + p.Hint + ")"
	}
	return text
}

// BenchHealth is what the page of that name shows.
type BenchHealth struct {
	Health
	Configuration
}

// ToLookAfter are the findings that want something done.
func (b BenchHealth) ToLookAfter() []HealthFinding { return b.found(true) }

// Well are the others.
func (b BenchHealth) Well() []HealthFinding { return b.found(false) }

func (b BenchHealth) found(todo bool) (out []HealthFinding) {
	for _, f := range b.Findings {
		if f.ToDo == todo {
			out = append(out, f)
		}
	}
	return out
}

// Mark is the shape of a grade.
func (f HealthFinding) Mark() string {
	switch f.Grade {
	case "fine":
		return "m-inside"
	case "note", "attend":
		return "m-doubt"
	}
	return "m-alarm"
}

// Class is its colour; a note has none.
func (f HealthFinding) Class() string {
	switch f.Grade {
	case "fine":
		return "is-inside"
	case "note":
		return "soft"
	case "attend":
		return "is-doubt"
	}
	return "is-outside"
}

// Reload is the sentence about what a reload would come to now.
func (b BenchHealth) Reload() string {
	switch n := len(b.Problems); {
	case !b.CanReload:
		return "This bench was started without a file: there is nothing to reload."
	case n == 1:
		return "The file has a problem: a reload changes nothing before it is mended."
	case n > 1:
		return fmt.Sprintf("The file has %d problems: a reload changes nothing before they are mended.", n)
	case b.Refused != "":
		return "A reload changes nothing now: " + b.Refused + "."
	case len(b.Changes) == 0:
		return "A reload changes nothing: what it could change is as the file has it."
	}
	return "A reload would change this: " + strings.Join(b.Changes, "; ") + "."
}

// WaitsSay is the sentence about what a reload does not change; "": nothing.
func (b BenchHealth) WaitsSay() string {
	if len(b.Waits) == 0 {
		return ""
	}
	return "This waits for a restart: " + strings.Join(b.Waits, ", ") + "."
}

// healthSentence is the news of the page.
func (v *view) healthSentence() (say, proof string) {
	if v.Health == nil {
		return "Nobody looks at this bench", "This daemon has no eyes for it: steadyrail doctor has."
	}
	well := len(v.Health.Well())
	proof = fmt.Sprintf("%d of %d findings are well. Looked at %s.", well, len(v.Health.Findings), v.clock(v.Health.At))
	switch n := len(v.Health.Findings) - well; n {
	case 0:
		return "Nothing has to be done", proof
	case 1:
		return "One thing to look after", proof
	default:
		return fmt.Sprintf("%d things to look after", n), proof
	}
}

// LoadedAt is when the configuration was read.
func (v *view) LoadedAt() string { return v.when(v.Health.Loaded) }
