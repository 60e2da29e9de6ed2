package rules

import (
	"cmp"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// dead keeps the newest volts that were read on a rail in a stage without power:
// what tells that it is dead, or that it is not. No rule makes a result of them,
// and a rail of which only they are known was measured all the same.
func (w *walker) dead(at capture.Instant, r *capture.Reading) {
	if !w.stage.Cold() || r.Quantity != capture.DCVoltage || !r.Good() {
		return
	}
	p, placed := w.b.places.At(r.Channel, at)
	began, there := w.b.places.At(r.Channel, r.Sampled(at))
	info, _ := w.b.out.Roster.Channel(r.Channel)
	rail := w.rail(p.Rail)
	if !placed || !there || began.Rail != p.Rail || rail == nil || info.Setpoint {
		return
	}
	rail.dead = &capture.Result{
		Rail: p.Rail, Stage: w.stage, Quantity: r.Quantity, Value: r.Value, Resolution: r.Resolution, Flags: r.Flags, Channel: r.Channel,
		Point: cmp.Or(p.Point, rail.rail.Point), Return: cmp.Or(p.Return, rail.rail.Return), At: at, N: 1, Say: deadWords(r.Value),
	}
}

// deadWords says what volts on a rail without power mean.
func deadWords(v float64) string {
	if max(v, -v) < kind.DeadBelow {
		return "Dead"
	}
	return "Not dead"
}
