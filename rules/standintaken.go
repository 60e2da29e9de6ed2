package rules

import (
	"fmt"
	"math"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/standin"
)

// into puts what was measured into a need and says of each figure where it is
// from.
func (f *needFold) into(need standin.Need) (standin.Need, []TakenNeed, error) {
	out := []TakenNeed{
		f.mean("load", &need.Load, f.load, "place an ammeter's channel on the rail while it works"),
		f.worst("peak", &need.Peak, f.load, f.load.high, true, "place an ammeter's channel on the rail while it starts"),
		f.worst("least", &need.Least, f.load, f.load.low, false, "place an ammeter's channel on the rail at its lightest work"),
	}
	if f.slow > 0 && !f.regulated() {
		out = append(out, f.unseen("in_low", need.InLow))
	} else {
		out = append(out, f.worst("in_low", &need.InLow, f.volts, f.volts.low, false, f.inputHint()))
	}
	out = append(out, f.worst("in_high", &need.InHigh, f.volts, f.volts.high, true, f.inputHint()))
	out = append(out, f.ambient(&need))
	if f.rail.ResetBelow > 0 && !need.Dip.Stated() {
		need.Dip = standin.Figure{Value: math.Abs(f.rail.Target) - f.rail.ResetBelow, Source: "the job's sheet: it resets below " + capture.Volt.Text(f.rail.ResetBelow, 0.01)}
		out = append(out, TakenNeed{Key: "dip", From: need.Dip, Say: "from the job's sheet"})
	}
	return need, out, nil
}

// regulated reports whether the input is a rail with a band: it has no valley.
func (f *needFold) regulated() bool { return f.input.Bounds.HasLow() && f.input.Bounds.HasHigh() }

func (f *needFold) inputHint() string {
	if !f.fed {
		return "the job's sheet names no rail that feeds it"
	}
	return "clip a meter on " + f.input.Name + ", at low mains and full load"
}

// unseen tells why a meter's lowest reading is not the valley.
func (f *needFold) unseen(key string, stated standin.Figure) TakenNeed {
	t := f.open(key, stated, "a capture of an oscilloscope shows it: --wave input=FILE")
	if f.volts.moments.N() > 0 {
		t.Say += fmt.Sprintf("; the meter on %s looks for %s at a time and reads the mean of the ripple", f.input.Name, f.slow.Round(time.Millisecond))
	}
	return t
}

// open is a figure that was not measured.
func (f *needFold) open(key string, stated standin.Figure, hint string) TakenNeed {
	if stated.Stated() {
		return TakenNeed{Key: key, From: stated, Say: "not measured in the job, as the sheet states it"}
	}
	return TakenNeed{Key: key, Say: "not stated: " + hint}
}

// lacking is open, or what kept a measured one from counting.
func (f *needFold) lacking(key string, stated standin.Figure, e extremes, hint string) TakenNeed {
	t := f.open(key, stated, hint)
	if e.mute != "" {
		t.Say += fmt.Sprintf("; %s states no accuracy, so that its readings are indicated only", e.mute)
	}
	return t
}

// mean takes the mean of all readings: the steady load.
func (f *needFold) mean(key string, into *standin.Figure, e extremes, hint string) TakenNeed {
	if e.moments.N() == 0 {
		return f.lacking(key, *into, e, hint)
	}
	// The meter's own error goes through the mean undiminished.
	*into = standin.Figure{Value: e.moments.Mean(), U: e.high.u, Source: fmt.Sprintf("measured: mean of %d readings of %s, %s to %s, %s", e.moments.N(), e.high.r.Channel, f.clock(e.first), f.clock(e.last), e.stage)}
	return TakenNeed{Key: key, From: *into, Say: "measured in the job"}
}

// worst takes an extreme, unless the need states a worse one.
func (f *needFold) worst(key string, into *standin.Figure, e extremes, end at2, high bool, hint string) TakenNeed {
	if e.moments.N() == 0 {
		return f.lacking(key, *into, e, hint)
	}
	measured := standin.Figure{Value: end.r.Value, U: end.u, Source: fmt.Sprintf("measured: %s of %d readings of %s, at %s", extremeWord(high), e.moments.N(), end.r.Channel, f.clock(end.at))}
	if info, _ := f.roster.Channel(end.r.Channel); info.Aperture > 0 {
		measured.Source += ", each over " + info.Aperture.String()
	}
	if strings.HasPrefix(key, "in_") && f.input.Target < 0 {
		measured.Value = -measured.Value
	}
	if into.Stated() && (math.Abs(into.Value) > end.r.Value) == high && math.Abs(into.Value) != end.r.Value {
		return TakenNeed{Key: key, From: *into, Say: fmt.Sprintf("as the sheet states it, which is worse than what was %s", measured.Source)}
	}
	*into = measured
	return TakenNeed{Key: key, From: measured, Say: "measured in the job"}
}

func extremeWord(high bool) string {
	if high {
		return "highest"
	}
	return "lowest"
}

// ambient takes the hottest air beside the converter; the room's is only told.
func (f *needFold) ambient(need *standin.Need) TakenNeed {
	t := f.worst("ambient", &need.Ambient, f.airs, f.airs.high, true, "place a thermometer's channel at a point called \""+PointAir+" at the converter\", covers on")
	if f.airs.moments.N() == 0 && f.roomTold {
		t.Say += fmt.Sprintf("; the room had %s, and the air beside a converter is hotter", capture.Celsius.Text(f.room, 0.1))
	}
	return t
}

func (f *needFold) clock(at capture.Instant) string {
	return at.Time().In(f.zone).Format("2006-01-02 15:04:05")
}
