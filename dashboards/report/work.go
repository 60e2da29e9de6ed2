package report

import (
	"strings"

	"steadyrail/capture"
)

type entryRow struct {
	When, Stage, Text string
	Finding           bool
	Kind              string
}

// logLimit keeps a report readable; the export has everything.
const logLimit = 300

func (t teller) entry(e capture.Entry) entryRow {
	text := e.Text
	if text == "" {
		text = strings.TrimSpace(string(e.Act.Verb) + " " + e.Act.Subject + " " + e.Act.Text)
	}
	return entryRow{When: t.short(e.At), Stage: string(e.Stage), Text: sentence(text), Finding: e.Act.Verb == capture.ActFinding, Kind: string(e.Act.Verb)}
}

// work picks out the entries that carry the repair: what was found step by
// step, and how the stand-in was set.
func (t teller) work() (found, standIn []entryRow) {
	for _, e := range t.d.Entries {
		switch e.Act.Verb {
		case capture.ActStage, capture.ActOpen, capture.ActClose, capture.ActLinkBack, capture.ActLinkLost, capture.ActHeard, capture.ActReset, capture.ActMute, capture.ActSoak:
			continue
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

type stageRow struct{ Stage, From, Length, Reason string }

func (t teller) stages() []stageRow {
	var out []stageRow
	for _, s := range t.d.Stages {
		row := stageRow{Stage: string(s.Stage), From: t.short(s.From), Length: "until the record ended", Reason: s.Reason}
		if !s.To.IsZero() {
			row.Length = span(s.To.Sub(s.From))
		}
		out = append(out, row)
	}
	return out
}

type ruleRow struct{ Name, Rail, Limits, Origin string }

func (t teller) rules() []ruleRow {
	var out []ruleRow
	for _, r := range t.d.Rules.Rules {
		row := ruleRow{Name: r.Name, Rail: named(r.Rail), Origin: "written"}
		if r.Implied {
			row.Origin = "from the rail"
		}
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
		row.Limits = strings.Join(append(parts, r.Severity.String()), ", ")
		out = append(out, row)
	}
	return out
}
