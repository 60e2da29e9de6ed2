package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/rules/waveform"
)

// shapes are the answers that only an oscilloscope gives, in order: what was not
// captured is not checked.
func (s Scope) shapes(n Need) []Check {
	var out []Check
	if s.Start == nil {
		out = append(out, Check{Name: "shape of the start", Word: NotChecked, Say: "needs the start seen by an oscilloscope: no overshoot, no step back, order against the other rails"})
	} else {
		out = append(out, overshoot(n, *s.Start), monotony(*s.Start), rise(n, *s.Start))
	}
	if s.Step == nil {
		out = append(out, Check{Name: "transients", Word: NotChecked, Say: "needs a load step seen by an oscilloscope"})
	} else {
		out = append(out, transient(n, *s.Step), recovery(n, *s.Step))
	}
	if s.Ripple != nil {
		out = append(out, seenRipple(n, *s.Ripple))
	}
	return append(out, s.loop())
}

// about fills in what every answer from a capture has.
func about[T any](s Seen[T], c Check, limit ...named) Check {
	c.Basis = s.bandwidth()
	c.Source = append([]string{"capture: " + s.Source}, sources(limit...)...)
	return c
}

func unsaidFrom[T any](s Seen[T], name, what, have string) Check {
	c := unsaid([]string{what})
	c.Name, c.Say = name, have+" "+c.Say
	return about(s, c)
}

// overshoot asks whether the start goes beyond what the load survives, wherever
// in its band the rail is set.
func overshoot(n Need, s Seen[waveform.Start]) Check {
	r := s.Shape
	have := fmt.Sprintf("It goes %s (%.2g %% of its rise) over its settled level and %s under it.", text(capture.Volt, r.Over), 100*r.OverPart(), text(capture.Volt, r.Under))
	if !n.Survives.Stated() {
		return unsaidFrom(s, "overshoot", "what the load survives", have)
	}
	_, band := bandOf(n.Rail)
	top, most := band+r.Over, math.Abs(n.Survives.Value)
	return about(s, Check{
		Name: "overshoot", Word: under(top, most, root(s.doubt(r.Over, 0), n.Survives.U)), Value: top, Limit: most, Unit: capture.Volt.ASCII(),
		Say: have + fmt.Sprintf(" From the top of the band that is %s; the load survives %s.", finer(top), text(capture.Volt, most)),
	}, named{"load survives", n.Survives})
}

// monotony asks whether the rise steps back by more than the ripple that its
// settled level has: a reset that waits for a threshold may be passed twice.
func monotony(s Seen[waveform.Start]) Check {
	r := s.Shape
	c := Check{Name: "monotony", Value: r.Back, Limit: r.Tail.Peak, Unit: capture.Volt.ASCII()}
	switch noise := max(r.Tail.Peak, s.Count); {
	case r.Back <= noise:
		c.Word, c.Say = Fits, fmt.Sprintf("From 10 to 90 %% it never steps back by more than its own ripple of %s.", text(capture.Volt, noise))
	case r.Back <= 2*noise:
		c.Word, c.Say = CannotTell, fmt.Sprintf("On its rise it steps back by %s; its own ripple is %s.", text(capture.Volt, r.Back), text(capture.Volt, noise))
	default:
		c.Word, c.Say = Unfit, fmt.Sprintf("On its rise it steps back by %s at %s of the capture: what waits for a threshold may start twice.", text(capture.Volt, r.Back), text(capture.Second, r.BackAt))
	}
	return about(s, c)
}

// rise asks whether the rail is up and settled in time.
func rise(n Need, s Seen[waveform.Start]) Check {
	r := s.Shape
	have := fmt.Sprintf("It rises from 10 to 90 %% in %s and is settled within %s after %s.", text(capture.Second, r.Rise), text(capture.Volt, r.Within), text(capture.Second, r.Settled))
	if math.IsInf(r.Settled, 1) {
		return about(s, Check{Name: "rise", Word: CannotTell, Unit: capture.Second.ASCII(), Value: r.Rise, Limit: n.Rise.Value,
			Say: fmt.Sprintf("It rises from 10 to 90 %% in %s and is not settled within %s when the capture ends.", text(capture.Second, r.Rise), text(capture.Volt, r.Within))}, named{"rail must be up in", n.Rise})
	}
	if !n.Rise.Stated() {
		return unsaidFrom(s, "rise", "time in which the rail must be up", have)
	}
	return about(s, Check{
		Name: "rise", Word: under(r.Settled, n.Rise.Value, r.Count), Value: r.Settled, Limit: n.Rise.Value, Unit: capture.Second.ASCII(),
		Say: have + fmt.Sprintf(" It may take %s.", text(capture.Second, n.Rise.Value)),
	}, named{"rail must be up in", n.Rise})
}

// transient asks how far a load step takes the rail from its level.
func transient(n Need, s Seen[waveform.Step]) Check {
	r, limit := s.Shape, n.Dip
	if !limit.Stated() {
		limit = Figure{Value: n.Rail.HalfBand(), Source: "half the band"}
	}
	c := Check{Name: "load step", Word: under(r.Away(), limit.Value, root(s.doubt(r.Away(), 0), limit.U)), Value: r.Away(), Limit: limit.Value, Unit: capture.Volt.ASCII()}
	c.Say = fmt.Sprintf("A load step takes it %s from its level and leaves it %s from there; it may go %s.", text(capture.Volt, r.Away()), text(capture.Volt, math.Abs(r.After-r.Before)), text(capture.Volt, limit.Value))
	c.Say += regulates(n, s)
	if !r.Seen {
		c.Word, c.Say = CannotTell, fmt.Sprintf("Nothing of a load step is seen above its ripple of %s: was one made?", text(capture.Volt, r.Quiet.Peak))
	}
	return about(s, c, named{"load bears", limit})
}

// regulates says the load regulation between the two levels, as data sheets state
// it, where the rail is up on both and they differ by more than the capture's doubt.
func regulates(n Need, s Seen[waveform.Step]) string {
	light, full := max(math.Abs(s.Shape.Before), math.Abs(s.Shape.After)), min(math.Abs(s.Shape.Before), math.Abs(s.Shape.After))
	if full < math.Abs(n.Rail.Target)/2 || light-full <= s.doubt(light-full, 0) {
		return ""
	}
	return fmt.Sprintf(" Between these two loads it regulates to %.2g %%.", LoadRegulation(light, full))
}

// LoadRegulation is by how many per cent of its level under full load a rail stands
// higher under a light one (as data sheets define it, from memory).
func LoadRegulation(light, full float64) float64 { return 100 * (light - full) / full }

// recovery asks how long it is away.
func recovery(n Need, s Seen[waveform.Step]) Check {
	r := s.Shape
	if !r.Seen || math.IsInf(r.Recovery, 1) {
		return about(s, Check{Name: "recovery", Word: CannotTell, Say: fmt.Sprintf("It does not come back within %s of its level before the capture ends, or no step is seen.", text(capture.Volt, r.Within))})
	}
	have := fmt.Sprintf("It is back within %s of its new level after %s.", text(capture.Volt, r.Within), text(capture.Second, r.Recovery))
	if r.Recovery == 0 {
		have = fmt.Sprintf("It never leaves its level by more than %s.", text(capture.Volt, r.Within))
	}
	if !n.Recovery.Stated() {
		return unsaidFrom(s, "recovery", "time in which it must be back", have)
	}
	return about(s, Check{
		Name: "recovery", Word: under(r.Recovery, n.Recovery.Value, 2/s.Rate), Value: r.Recovery, Limit: n.Recovery.Value, Unit: capture.Second.ASCII(),
		Say: have + fmt.Sprintf(" It may take %s.", text(capture.Second, n.Recovery.Value)),
	}, named{"must be back in", n.Recovery})
}

// seenRipple asks what is left on the rail, in the bandwidth of the capture.
func seenRipple(n Need, s Seen[waveform.Swing]) Check {
	r := s.Shape
	have := fmt.Sprintf("%s peak to peak, %s RMS, in the bandwidth of the capture, spikes in it included.", text(capture.Volt, r.Peak), text(capture.Volt, r.RMS))
	if !n.Ripple.Stated() {
		return unsaidFrom(s, "ripple seen", "ripple that the load bears", have)
	}
	return about(s, Check{
		Name: "ripple seen", Word: under(r.Peak, n.Ripple.Value, root(s.doubt(r.Peak, 0), n.Ripple.U)), Value: r.Peak, Limit: n.Ripple.Value, Unit: capture.Volt.ASCII(),
		Say: have + fmt.Sprintf(" The load bears %s.", text(capture.Volt, n.Ripple.Value)),
	}, named{"load bears", n.Ripple})
}

// loop is what no capture of a meter or an oscilloscope proves; what rings is a
// hint.
func (s Scope) loop() Check {
	c := Check{Name: "loop stability", Word: NotChecked, Say: "needs the loop's gain and phase measured; a load step seen by an oscilloscope hints at it"}
	switch {
	case s.Step != nil && s.Step.Shape.Seen:
		c.Say = fmt.Sprintf("is not measured by a capture. After the load step it crosses its level %d times: a hint only", s.Step.Shape.Swings)
	case s.Start != nil:
		c.Say = fmt.Sprintf("is not measured by a capture. Its overshoot is that of a damping of about %.2g: a hint only, the soft start hides more", s.Start.Shape.Damping())
	}
	return c
}
