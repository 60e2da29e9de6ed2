package kind

import (
	"fmt"

	"steadyrail/capture"
)

// Fits reports why a rule would never judge the channel that it names in of, or
// would judge it by figures that are about the rail's voltage. Such a rule looks
// like a guard and is none.
func Fits(r capture.Rule, ch capture.ChannelInfo) error {
	k, known := Find(r.Kind)
	switch {
	case !known:
		return nil
	case !k.Listen.HearsOne(r, ch) && ch.Setpoint && ch.Quantity == k.Listen.Quantity:
		return fmt.Errorf("%s is a supply's read-back of its own voltage, which stands before the leads: only a band with low and high judges it", ch.ID)
	case !k.Listen.HearsOne(r, ch):
		return fmt.Errorf("%s judges %s, and %s measures %s", r.Kind, k.Listen.Quantity.Words(), ch.ID, ch.Quantity.Words())
	case k.Listen.ReadBack && !ch.Setpoint:
		return fmt.Errorf("%s judges what a supply reads back of itself, and %s is a meter's", r.Kind, ch.ID)
	case ch.Quantity == capture.DCVoltage:
		return nil
	case r.Kind == "band" && r.Bounds == (capture.Bounds{}):
		return fmt.Errorf("say low and high: the rail's own are about its voltage, and %s measures %s", ch.ID, ch.Quantity.Words())
	case k.Listen.Any && r.Limit == 0 && k.Limited:
		return fmt.Errorf("say a limit: the one that follows from the rail is about its voltage, and %s measures %s", ch.ID, ch.Quantity.Words())
	}
	return nil
}

// FitsBeside reports why a rule cannot be held against a channel.
func FitsBeside(r capture.Rule, ch capture.ChannelInfo) error {
	if k, _ := Find(r.Kind); k.Against == AgainstChannel && ch.Quantity != k.Listen.Quantity {
		return fmt.Errorf("%s is held against another %s, and %s measures %s", r.Kind, k.Listen.Quantity.Words(), ch.ID, ch.Quantity.Words())
	}
	return nil
}
