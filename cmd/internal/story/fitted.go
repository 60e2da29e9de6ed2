package story

import (
	"context"
	"slices"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// fitted records the converter in PS2's place, and reads its rail cold once more:
// what was soldered after a cold check is not covered by it, and the output would
// not go on.
func (s *Story) fitted(ctx context.Context) error {
	part := capture.Fitted{Type: "step-down board", Origin: "own stock", Quantity: 1, Replaces: "potted +5 V converter"}
	if err := s.act(ctx, part.Act(sim.PS2, "")); err != nil {
		return err
	}
	s.say("Fitted in PS2's place. Its cold check is older than that, so once more before power:")
	rail := s.sheet.Rails[slices.IndexFunc(s.sheet.Rails, func(r capture.Rail) bool { return r.Name == rail5 })]
	v, err := s.read(ctx, volts, where{rail: rail.Name, point: rail.Point})
	if err != nil {
		return err
	}
	s.say("  %-12s %10s  %s", rail.Name, text(v), atRest(v))
	return s.readShort(ctx, rail)
}
