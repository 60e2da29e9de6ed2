package rules

import "steadyrail/capture"

// trimmed hands the record to who follows the screw. Readings count only in the
// stages in which a converter is set: those of a long soak are spared.
func (b *builder) trimmed(rec capture.Record) {
	if _, reading := rec.Item.(capture.Reading); reading {
		switch b.stageNow() {
		case capture.StandIn, capture.Preset, capture.Trim, capture.WarmUp:
		default:
			return
		}
	}
	b.trims.Consume(rec)
}

// stageNow is the stage entered last, as the record has it.
func (b *builder) stageNow() capture.Stage {
	if n := len(b.stages); n > 0 {
		return b.stages[n-1].Stage
	}
	return ""
}

// trimFindings says for each rail what presetting and trimming came to.
func (b *builder) trimFindings() {
	for i := range b.out.Rails {
		if t, ok := b.trims.State(b.out.Rails[i].Rail.Name, b.out.To); ok {
			if len(t.Findings) > 0 {
				b.out.Rails[i].Trim = t.Findings
			}
		}
	}
}
