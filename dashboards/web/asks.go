package web

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// ask is a line on the Bench page about something that a person has to do to a
// meter: touch a rail with it, or press a key on it.
type ask struct {
	Key           string // of the line, as long as it is about the same
	What, Do      string // what is so; what to do about it
	Verb, Subject string // of the act; empty: nothing can be done here
	Rails         []string
	Rail          string // of these, where it stood last
	Button        string
	Waiting       string // what the page says until the act is answered
	Shortcut      string // a key of the keyboard
}

// Asks lists what has to be done to meters, in order of the bench.
func (v *view) Asks() []ask {
	if !v.HasJob {
		return nil
	}
	var out []ask
	for _, in := range v.snap.Instruments {
		if in.Doubtful {
			out = append(out, v.askTap(in))
		}
	}
	for i := range out {
		if out[i].Verb != "" {
			out[i].Shortcut = "t"
			break
		}
	}
	return append(append(out, v.askCold()...), v.askKeys()...)
}

// Stands reports whether the page must not be loaded again by itself: without a
// script that would take a touch back which is being waited for.
func (v *view) Stands() bool {
	return v.Page == "bench" && v.Unlocked && slices.ContainsFunc(v.Asks(), func(a ask) bool { return a.Verb == string(capture.ActTap) })
}

// askTap asks for a touch. Which one depends on what the meter measures now.
func (v *view) askTap(in live.InstrumentView) ask {
	name := in.Info.Name
	a := ask{Key: "tap " + name, What: "Nobody can say which meter answers as " + name}
	if in.Tapping {
		a.What, a.Do = sentence(glue(capture.TrueMinus(in.Problem))), "Hold it there for a few seconds."
		return a
	}
	a.Verb, a.Subject, a.Waiting = string(capture.ActTap), name, "Touch it now. This waits for up to half a minute."
	a.Button = "Begin the tap of " + name
	switch v.measures(name) {
	case capture.DCVoltage:
		a.Do = "Lift the probes of " + name + ", press the button, then touch the rail for a few seconds."
		for _, rv := range v.Job.Rails {
			a.Rails = append(a.Rails, rv.Rail.Name)
			if rv.Live && rv.Placement.Channel.Instrument() == name {
				a.Rail = rv.Rail.Name
			}
		}
	case capture.Resistance:
		a.Do = "Lift the probes of " + name + ", press the button, then put them together for a few seconds."
	default:
		a.Verb, a.Do = "", "Set "+name+" to volts or ohms: nothing else can be touched."
	}
	return a
}

// measures returns what a meter's input measures now, of what can be touched.
func (v *view) measures(name string) capture.Quantity {
	for _, c := range v.snap.Channels {
		if c.Selected && c.Info.ID.Instrument() == name && (c.Info.Quantity == capture.DCVoltage || c.Info.Quantity == capture.Resistance) {
			return c.Info.Quantity
		}
	}
	return capture.NoQuantity
}

// askKeys asks for a key on meters that may switch themselves off, unless an
// alarm asks for it already.
func (v *view) askKeys() (out []ask) {
	for _, rv := range v.Job.Rails {
		for _, ver := range rv.Verdicts {
			open := func(t capture.Transition) bool { return t.Rule == ver.Rule }
			if ver.Kind != "auto-off" || ver.Unit != "s" || slices.ContainsFunc(v.Job.Alarms, open) {
				continue
			}
			news, do := splitSay(ver.Say)
			out = append(out, ask{
				Key: ver.Rule, What: glue(news), Do: sentence(do), Verb: string(capture.ActHeard), Subject: ver.Rule, Button: "Key pressed on " + ver.Channel.Instrument(),
			})
		}
	}
	return out
}

// outlet is an output, or a load's input, that may be switched.
type outlet struct {
	Subject, Verb string
	Name          string // "psu output 1", "all of psu"
	On            bool   // it may be switched on here, too: several are not
}

// Asks reports whether switching on needs a permit: a supply's output does.
func (o outlet) Asks() bool { return o.On && o.Verb == string(capture.ActOutput) }

// Settable lists the outputs whose limits may be set, and that may be switched.
func (v *view) Settable() (out []string) {
	for _, in := range v.snap.Instruments {
		for _, o := range outlets(in.Info) {
			if o.Asks() && slices.Contains(in.Info.Acts, string(capture.ActLimits)) {
				out = append(out, o.Subject)
			}
		}
	}
	return out
}

// TripCautions are what stands beside whatever switches an output.
func (v *view) TripCautions() []string { return capture.TripCaution[:] }

// outlets lists what of an instrument may be switched. Several outputs are each
// named, and come after the one act that is about all: off.
func outlets(in capture.InstrumentInfo) (out []outlet) {
	for _, verb := range []capture.Verb{capture.ActOutput, capture.ActInput} {
		if !slices.Contains(in.Acts, string(verb)) {
			continue
		}
		switch {
		case len(in.Outputs) > 1:
			out = append(out, outlet{Subject: in.Name, Verb: string(verb), Name: "all of " + in.Name})
			for _, o := range in.Outputs {
				out = append(out, outlet{Subject: in.Name + "/" + o, Verb: string(verb), Name: in.Name + " " + string(verb) + " " + o, On: true})
			}
		case verb == capture.ActInput:
			out = append(out, outlet{Subject: in.Name, Verb: string(verb), Name: in.Name + " input", On: true})
		default:
			out = append(out, outlet{Subject: in.Name, Verb: string(verb), Name: in.Name, On: true})
		}
	}
	return out
}

// Outlets lists everything on the bench that may be switched.
func (v *view) Outlets() (out []outlet) {
	for _, in := range v.snap.Instruments {
		out = append(out, outlets(in.Info)...)
	}
	return out
}

// OffOf lists what of an instrument may be switched off where no job is open: the
// outputs of a supply that answers, to whom off may be said at any time.
func (v *view) OffOf(in live.InstrumentView) []outlet {
	if !v.Unlocked || !in.Up {
		return nil
	}
	return slices.DeleteFunc(outlets(in.Info), func(o outlet) bool { return o.Verb != string(capture.ActOutput) })
}

// Takeable lists the channels that can be asked for a reading of their own: a
// resistance behind an input that measures something else besides.
func (v *view) Takeable() (out []capture.ChannelID) {
	for _, c := range v.snap.Channels {
		if c.Info.Group != "" && c.Info.Quantity == capture.Resistance && !c.Info.Streams {
			out = append(out, c.Info.ID)
		}
	}
	return out
}
