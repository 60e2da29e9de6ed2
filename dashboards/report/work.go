package report

import (
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

type entryRow struct {
	When, Stage, Text string
	Finding           bool // a conviction: said loudly
	Acquitted         bool
	Kind              string
}

// logLimit keeps a report readable; the export has everything.
const logLimit = 300

func (t teller) entry(e capture.Entry) entryRow {
	text := e.Text
	if text == "" {
		text = strings.TrimSpace(string(e.Act.Verb) + " " + e.Act.Subject + " " + e.Act.Text)
	}
	low := strings.ToLower(text)
	acquitted := strings.Contains(low, "acquitted")
	return entryRow{When: t.short(e.At), Stage: string(e.Stage), Text: sentence(text), Acquitted: acquitted, Kind: string(e.Act.Verb),
		Finding: e.Act.Verb == capture.ActFinding && !acquitted && strings.Contains(low, "convicted")}
}

// work picks out the entries that carry the repair: what was found step by
// step, and how the stand-in was set.
func (t teller) work() (found, standIn []entryRow) {
	for _, e := range t.d.Entries {
		switch e.Act.Verb {
		case capture.ActStage, capture.ActOpen, capture.ActClose, capture.ActLinkBack, capture.ActLinkLost, capture.ActHeard, capture.ActReset, capture.ActMute, capture.ActSoak,
			capture.ActPicture, capture.ActSound, capture.ActPart, capture.ActIndication, capture.ActErase: // these have places of their own
			continue
		case capture.ActOutput:
			if e.Act.Text != "on" && e.Act.Text != "off" {
				continue // only announced: what became of it comes next
			}
		}
		switch e.Stage {
		case capture.ColdChecks, capture.Isolate:
			found = append(found, t.entry(e))
		case capture.StandIn, capture.Preset, capture.Trim, capture.WarmUp:
			standIn = append(standIn, t.entry(e))
		default:
			switch e.Act.Verb {
			case capture.ActLift, capture.ActPutBack, capture.ActFinding, capture.ActNull:
				found = append(found, t.entry(e))
			case capture.ActTurn:
				standIn = append(standIn, t.entry(e))
			}
		}
	}
	return found, standIn
}

func (t teller) log() (rows []entryRow, more int) {
	for i, e := range t.d.Entries {
		if i == logLimit {
			return rows, len(t.d.Entries) - logLimit
		}
		rows = append(rows, t.entry(e))
	}
	return rows, 0
}

// stages tells when each stage began, how long it lasted and why it was left or
// skipped.
func (t teller) stages() []pair {
	var out []pair
	for _, s := range t.d.Stages {
		length := "until the record ended"
		switch d := s.To.Sub(s.From); {
		case s.To.IsZero():
		case d < time.Second:
			length = tied("under 1 s")
		default:
			length = span(d)
		}
		text := t.short(s.From) + ", " + length
		if s.Reason != "" {
			text += ": " + s.Reason
		}
		out = append(out, pair{capital(string(s.Stage)), text})
	}
	return out
}

type ruleRow struct{ Name, Rail, Limits, Origin string }

// rules lists what was watched for; rules that follow from several rails alike
// are said once.
func (t teller) rules() []ruleRow {
	var out []ruleRow
	for _, r := range t.d.Rules.Rules {
		row := ruleRow{Name: capture.TrueMinus(r.Name), Limits: limits(r), Origin: "written"}
		if r.Name == r.Kind+" "+r.Rail {
			row.Name = r.Kind
		}
		if r.Implied {
			row.Origin = "from the rail"
		}
		alike := func(o ruleRow) bool { o.Rail = ""; return o == row }
		if i := slices.IndexFunc(out, alike); i >= 0 {
			out[i].Rail += ", " + named(r.Rail)
			continue
		}
		row.Rail = named(r.Rail)
		out = append(out, row)
	}
	for i := range out {
		out[i].Rail = t.allRails(out[i].Rail)
	}
	return out
}

func limits(r capture.Rule) string {
	var parts []string
	if r.Limit != 0 {
		parts = append(parts, "limit "+capture.Figure(r.Limit, 0))
	}
	if r.OnDelay > 0 {
		parts = append(parts, "must last "+span(r.OnDelay))
	}
	if r.OffDelay > 0 {
		parts = append(parts, "gone for "+span(r.OffDelay))
	}
	if r.Window > 0 {
		parts = append(parts, "over "+span(r.Window))
	}
	if r.Latch {
		parts = append(parts, "stays until reset")
	}
	return strings.Join(append(parts, r.Severity.String()), ", ")
}
