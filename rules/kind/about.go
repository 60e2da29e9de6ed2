package kind

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// What the kinds judge, in one sentence each.
const (
	aboutCollapse    = "A rail that stood in its band fell out of it far: by more than the band's own width, or below where the set resets."
	aboutMissing     = "The rail is not there: below 10 % of nominal it is off, up to 60 % it is fed from elsewhere, dragged or running down."
	aboutBand        = "The mean over a second lies within the bounds, with the meter's uncertainty as guard band; single readings outside count when they last."
	aboutSilent      = "The channel gives no reading that may be judged."
	aboutAutoOff     = "The meter is about to switch itself off."
	aboutShort       = "The resistance to the return is a short: leads nulled, reading steady, the rail proven dead in the last minute."
	aboutLimiting    = "The supply went from constant voltage to constant current."
	aboutRestarts    = "The rail collapses again and again: a supply that starts, finds a fault and starts anew."
	aboutDrift       = "The rail moves slowly, faster than the limit, by the slope of block medians with its 95 % interval."
	aboutSettled     = "What a warm-up still has to bring, slope times time constant, lies below the limit."
	aboutUnrest      = "The readings scatter more than the limit, rail and meter together, by an interval of 95 %. That is not ripple, which no averaging meter sees."
	aboutHot         = "A temperature, or its rise above another one, is over the limit, with the uncertainty as guard band: of a rise, that of both sensors."
	aboutOvercurrent = "The current is over the limit."
	aboutFrozen      = "The digits stay the same for longer than this meter's own noise allows."
	aboutTrip        = "A supply that an alarm of this rail switches off can be reached, its own protection was read back, and it did go off when it was told to."
	aboutInjection   = "A small current that walks a short down did end when its time was over, and can be ended while it is on."
	aboutFoundOff    = "A supply's output is off though nothing here switched it off: its own protection, which is named where the supply tells, or a hand."
	aboutOrder       = "The rail came up after the other one, as far as the readings can tell."
)

// near prints a limit in volt with the digits that the rail's band is worth.
func near(r capture.Rail, v float64) string { return capture.Volt.Text(v, fine(r, v)) }

// fine is the resolution that a limit on a rail is printed with: two digits of
// its own, or those of the band where they are finer.
func fine(r capture.Rail, v float64) float64 {
	return min(twoDigits(v), r.DistanceResolution(0.001))
}

func sides(r capture.Rail) string {
	var list []string
	if r.Bounds.HasLow() {
		list = append(list, "lowest "+near(r, r.Bounds.Low))
	}
	if r.Bounds.HasHigh() {
		list = append(list, "highest "+near(r, r.Bounds.High))
	}
	return strings.Join(list, ", ")
}

func signed(r capture.Rail, magnitude float64) float64 {
	if r.Nominal < 0 {
		return -magnitude
	}
	return magnitude
}

func defaultCollapse(r capture.Rail) string {
	return "collapsed beyond " + near(r, signed(r, CollapseLimit(capture.Rule{}, r))) + ", latches"
}

func defaultMissing(r capture.Rail) string {
	return "missing below " + near(r, signed(r, float64(FedBelow*abs(r.Nominal)))) + " for 1 s"
}

func defaultBand(r capture.Rail) string {
	if sides(r) == "" {
		return "no bounds are declared: none"
	}
	return sides(r) + ", for 1 s; back inside by " + near(r, bandDeadband(r))
}

func defaultSilent(capture.Rail) string {
	return fmt.Sprintf("%d intervals without a reading, at least %s s", SilentIntervals, seconds(SilentLeast))
}

func defaultAutoOff(capture.Rail) string { return "as the meter's model file states" }

func defaultShort(r capture.Rail) string {
	if r.ShortBelow <= 0 {
		return "none: the rail declares no threshold"
	}
	return "short below " + capture.Ohm.Text(r.ShortBelow, 0.1)
}

func defaultLimiting(capture.Rail) string { return "no figures" }

func defaultRestarts(r capture.Rail) string {
	return fmt.Sprintf("%d falls beyond %s within a minute, or longer for slow readings", RestartCount, near(r, signed(r, CollapseLimit(capture.Rule{}, r))))
}

func defaultDrift(r capture.Rail) string {
	v := driftLimit(capture.Rule{}, r)
	return capture.Volt.Text(v, fine(r, v)) + " per hour, a tenth of the band"
}

func defaultSettled(r capture.Rail) string {
	return near(r, float64(r.HalfBand()/5)) + " to go, a tenth of the band, or a third of the meter's uncertainty where that is less; after half an hour"
}

func defaultUnrest(r capture.Rail) string {
	return "a standard deviation of " + near(r, unrestLimit(capture.Rule{}, r)) + " over 10 s, a twentieth of the band"
}

func defaultHot(capture.Rail) string {
	return fmt.Sprintf("%g °C, or %g K above the temperature it is held against; back by %g K", HotAbove, HotRise, HotDeadband)
}

func defaultOvercurrent(capture.Rail) string { return "none follows from a rail: write one" }

func defaultFrozen(capture.Rail) string {
	return fmt.Sprintf("learned from %d readings of this meter, at least %s s", frozenLearn, seconds(FrozenLeast))
}

func defaultOrder(capture.Rail) string { return "up is in its band; write the rail that comes first" }

func defaultFoundOff(capture.Rail) string {
	return "follows from an output that was found off, one for each"
}

func defaultInjection(capture.Rail) string { return "follows from an injection, one for each output" }

func defaultTrip(capture.Rail) string { return "follows from a rule with a trip, one for each output" }
