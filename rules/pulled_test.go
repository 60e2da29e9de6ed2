package rules

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// pulledLog is a job in which the one meter is pulled and put back, or another
// one into its place, while people hear and mute.
func pulledLog(t *rapid.T) []capture.Record {
	log := opening(nil, five)
	now, lost := epoch+10, ""
	for range rapid.IntRange(5, 80).Draw(t, "records") {
		now += capture.Instant(rapid.IntRange(1, 900_000).Draw(t, "pause"))
		if now%100_000 == 0 {
			now++
		}
		r := volts("dmm/volts", 5)
		var item capture.Item
		switch rapid.IntRange(0, 14).Draw(t, "what") {
		case 0, 1, 2:
			lost = rapid.SampledFrom([]string{"closed", "458 is there", "459 is there"}).Draw(t, "lost")
			item = capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: lost}
		case 3:
			item = capture.Act{Verb: capture.ActHeard}
		case 4:
			item = capture.Act{Verb: capture.ActMute, Value: float64(rapid.IntRange(0, 5).Draw(t, "mute"))}
		case 5:
			lost = ""
			item = capture.Act{Verb: capture.ActLinkBack, Subject: "dmm"}
		default:
			switch lost {
			case "":
				r.Flags = rapid.SampledFrom([]capture.Flags{0, capture.TimedOut}).Draw(t, "flags")
			case "closed":
				r.Flags = capture.Disconnected
			default:
				r.Flags = capture.Mismatch
			}
			item = r
		}
		log = append(log, capture.Record{At: now, Job: "AB-0147", Item: item})
	}
	return log
}

// TestReplayToldAnew holds replay against live where alarms are told anew, and
// that each telling names who is there by then.
func TestReplayToldAnew(t *testing.T) {
	anew, unheard := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		said := ""
		for _, tr := range replays(t, pulledLog(t)) {
			if tr.Kind != "silent" {
				continue
			}
			if tr.From.IsActive() && tr.To == capture.Active && tr.Say != said {
				anew++
				if tr.From == capture.Heard {
					unheard++
				}
				if !strings.Contains(tr.Say, " is there") {
					t.Fatalf("told anew without a name: %+v", tr)
				}
			}
			said = tr.Say
		}
	})
	if anew == 0 || unheard == 0 {
		t.Errorf("%d alarms were told anew, %d of them heard before: the logs miss the point", anew, unheard)
	}
}
