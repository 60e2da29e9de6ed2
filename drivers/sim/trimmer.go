package sim

import (
	"math"
	"time"
)

// trimmer is a multi-turn trimming resistor under a screwdriver. The wiper
// follows the screw with a little slack, and the blade disturbs while it is in
// the slot.
type trimmer struct {
	screw, target, wiper float64 // turns from the lower end
	bladeFor             float64 // s that the blade stays after the last turn
	wobble               wander
}

const (
	trimmerTurns  = 25.0
	trimmerSlack  = 0.06 // turns between up and down
	turnsPerSec   = 1.0
	bladeLinger   = 0.6     // s until the blade is out of the slot
	bladeOffset   = -0.0022 // V
	bladeWobble   = 0.0009  // V
	trimmerBottom = 4.60    // V at the lower end
	voltsPerTurn  = 0.040
)

// turn starts a movement by so many turns, up positive, and returns how long
// it takes until the blade is lifted. The ends have a slipping clutch.
func (t *trimmer) turn(turns float64) time.Duration {
	t.target = math.Min(trimmerTurns, math.Max(0, t.target+turns))
	t.bladeFor = bladeLinger
	s := math.Abs(t.target-t.screw)/turnsPerSec + bladeLinger
	return time.Duration(s * float64(time.Second))
}

func (t *trimmer) step(dt float64) {
	if t.bladeFor <= 0 {
		return
	}
	t.wobble.step(dt)
	way, reach := t.target-t.screw, turnsPerSec*dt
	if math.Abs(way) > reach {
		t.screw += math.Copysign(reach, way)
	} else {
		t.screw = t.target
		t.bladeFor -= dt
	}
	t.wiper = math.Max(t.wiper, t.screw-trimmerSlack/2)
	t.wiper = math.Min(t.wiper, t.screw+trimmerSlack/2)
}

// volts is the converter's reference as seen at its output, at 25 °C. The
// track is not quite even: the gain varies by some per cent along the way.
func (t *trimmer) volts() float64 {
	v := trimmerBottom + voltsPerTurn*t.wiper + 0.0008*math.Sin(2.1*t.wiper)
	if t.bladeFor > 0 {
		v += bladeOffset + t.wobble.value
	}
	return v
}
