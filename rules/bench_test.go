package rules

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"steadyrail/capture"
)

// tenRules are ten rules on one rail that listen to its voltage, held against
// another rail where they need one.
func tenRules(r capture.Rail, other string) (out []capture.Rule) {
	for i, k := range []string{"collapse", "missing", "band", "silent", "restarts", "drift", "settled", "unrest", "frozen", "order"} {
		rule := capture.Rule{Name: fmt.Sprintf("%d %s", i, r.Name), Kind: k, Rail: r.Name, Deadband: 0.01}
		if k == "order" {
			rule.Against = other
		}
		if k == "band" || k == "missing" {
			rule.OnDelay, rule.OffDelay = time.Second, time.Second
		}
		out = append(out, rule)
	}
	return out
}

// BenchmarkEngine is the cost of one reading with 4 rails and the implied rules,
// or ten rules, on each, ticks included as they come at 20 readings a second.
func BenchmarkEngine(b *testing.B) {
	var rails []capture.Rail
	var chans []capture.ChannelInfo
	for i := range 4 {
		r := five
		r.Name = fmt.Sprintf("rail %d", i)
		rails = append(rails, r)
		chans = append(chans, capture.ChannelInfo{ID: capture.ChannelID(fmt.Sprintf("dmm%d/volts", i)), Quantity: capture.DCVoltage, Every: 200 * time.Millisecond,
			Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.00015, OfRange: 0.00002}}})
	}
	sheet := capture.Sheet{Rails: rails}
	log := []capture.Record{{At: epoch + 1, Item: sheet}, {At: epoch + 2, Item: capture.Roster{Instruments: []capture.InstrumentInfo{{Channels: chans}}}},
		{At: epoch + 3, Item: capture.RuleSet{Rules: Implied(sheet, capture.Roster{})}}, {At: epoch + 4, Item: capture.Act{Verb: capture.ActStage, Stage: capture.Soak}}}
	for i := range rails {
		log = append(log, capture.Record{At: epoch + 5 + capture.Instant(i), Item: capture.Placement{Channel: chans[i].ID, Rail: rails[i].Name, Hold: capture.Clipped}})
	}
	readings := make([]capture.Item, 4096)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range readings {
		readings[i] = volts(string(chans[i%4].ID), 5+0.003*rng.NormFloat64())
	}
	for _, c := range []struct {
		name  string
		judge bool
		ten   bool
		step  capture.Instant // between readings, microseconds
	}{{"judged", true, false, 50_007}, {"ten rules on each rail", true, true, 50_007}, {"ten rules, 4000 readings a second", true, true, 250}, {"baseline without rules", false, false, 50_007}} {
		b.Run(c.name, func(b *testing.B) {
			e := New("")
			for _, r := range log {
				_, isRules := r.Item.(capture.RuleSet)
				if isRules && c.ten {
					var set capture.RuleSet
					for i, rail := range rails {
						set.Rules = append(set.Rules, tenRules(rail, rails[(i+1)%4].Name)...)
					}
					r.Item = set
				}
				if c.judge || !isRules {
					e.Consume(r)
				}
			}
			now, tick := epoch+10, epoch+100_000
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				now += c.step
				for ; tick < now; tick += 100_000 {
					e.Consume(capture.Record{At: tick, Item: capture.Tick{}})
				}
				e.Consume(capture.Record{At: now, Item: readings[i%len(readings)]})
			}
		})
	}
}
