package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// hot judges a temperature against a limit, or its rise over the channel that
// the rule names in against, such as one in the air of the room. A sensor that
// is silent, and an ambient that is, give no verdict. A temperature and a rise are
// decided with their uncertainty as guard band, see [above]; where either sensor
// has no stated accuracy, a rise is indicated only. The alarm goes by the bare
// figure, with deadband.
type hot struct {
	base
	under
	air   capture.Reading // newest of what it is held against
	airAt capture.Instant // 0: none
	rise  above
	over  bool
}

// Limits of temperature that hold where a rule says nothing. No rail tells how
// hot its parts may be: these are common practice, 85 °C being the lower of the
// usual ratings of electrolytic capacitors, and 45 K the same on a bench of
// 40 °C. The deadband is 1 % of the range of a sensor up to 200 °C, which EEMUA 191
// starts a temperature with; the on-delay of a minute that stands beside it there
// is not taken: what burns does not wait.
const (
	HotAbove    = 85.0 // °C
	HotRise     = 45.0 // K
	HotDeadband = 2.0  // K
	// airLasts is how long the air keeps its temperature unread.
	airLasts = time.Minute
)

func newHot(c Case) Judge { return &hot{base: base{Case: c}} }

func (h *hot) rises() bool { return h.Rule.Against != "" }

func (h *hot) limit() float64 {
	switch {
	case h.Rule.Limit != 0:
		return h.Rule.Limit
	case h.rises():
		return HotRise
	}
	return HotAbove
}

func (h *hot) deadband() float64 {
	if h.Rule.Deadband > 0 {
		return h.Rule.Deadband
	}
	return HotDeadband
}

func (h *hot) Blind(capture.Instant) { h.lastAt, h.airAt = 0, 0 }

func (h *hot) Sit(at capture.Instant, seat Seat) {
	h.base.Sit(at, seat)
	if h.over = false; h.airAt != 0 {
		h.rise.beside(&h.base, &h.air) // its description may be what changed
	}
}

// Beside takes the air's temperature.
func (h *hot) Beside(at capture.Instant, r *capture.Reading) {
	if !h.rises() || string(r.Channel) != h.Rule.Against || r.Quantity != capture.Temperature || !r.Good() {
		return
	}
	h.air, h.airAt = *r, at
	h.rise.beside(&h.base, r)
	h.judge()
}

func (h *hot) Read(at capture.Instant, r *capture.Reading) {
	if !h.keep(at, r) {
		return
	}
	if h.rises() {
		h.rise.heard(&h.base)
	}
	h.judge()
}

func (h *hot) judge() {
	if !h.told() {
		return
	}
	v := h.value()
	if h.rises() {
		h.u = h.rise.state(&h.base, false)
		h.fits, _ = uncertainty.Decide(v, h.u.Expanded, atMost(h.limit()))
	} else {
		h.decide(&h.base, v, h.limit())
	}
	h.over = v > h.limit() || h.over && v > h.limit()-h.deadband()
}

// told reports whether everything that is needed has been read.
func (h *hot) told() bool {
	return h.lastAt != 0 && (!h.rises() || h.airAt != 0 && h.now.Sub(h.airAt) < airLasts)
}

func (h *hot) value() float64 {
	if h.rises() {
		return h.last.Value - h.air.Value
	}
	return h.last.Value
}

func (h *hot) Condition() Condition {
	switch {
	case !h.known() || !h.told():
		return Unknown
	case h.over:
		return Present
	}
	return Absent
}

func (h *hot) Outcome() capture.Outcome {
	if h.Condition() == Unknown {
		return capture.NoData
	}
	return h.fits
}

func (h *hot) Verdict() capture.Verdict {
	switch {
	case !h.known():
		return h.blank("No reading")
	case !h.told():
		return h.blank("Cannot tell: no reading of " + h.Rule.Against)
	}
	v := h.blank(h.text(h.value()))
	v.Outcome, v.Value, v.Unit, v.Resolution = h.Outcome(), h.value(), h.scale(), h.last.Resolution
	v.From, v.To, v.N = h.lastAt, h.lastAt, 1
	u := h.u
	if h.rises() {
		u = h.rise.state(&h.base, true)
	}
	h.doubt(&v, u, atMost(h.limit()))
	return v
}

// kelvin is the unit of a difference of temperatures.
const kelvin = "K"

// scale is the unit of what is judged, in ASCII.
func (h *hot) scale() string {
	if h.rises() {
		return kelvin
	}
	return capture.Celsius.ASCII()
}

// text prints a temperature, or a rise.
func (h *hot) text(v float64) string {
	if h.rises() {
		return capture.One.Text(v, max(h.last.Resolution, 0.1)) + " " + kelvin + " above " + h.Rule.Against
	}
	return h.unit().Text(v, max(h.last.Resolution, 0.1))
}

func (h *hot) Finding() Finding {
	f := h.finding()
	f.Say = fmt.Sprintf("%s is hot: %s, limit %g %s", h.subject(), h.text(h.value()), h.limit(), map[bool]string{true: kelvin, false: "°C"}[h.rises()])
	f.Advice = "switch off before the capacitors suffer; look at its load and at what should cool it"
	return f
}

func (h *hot) Recovery() Finding {
	f := h.finding()
	f.Say = fmt.Sprintf("%s has cooled: %s", h.subject(), h.text(h.value()))
	return f
}

func (h *hot) finding() Finding {
	return Finding{Value: h.value(), Limit: h.limit(), Unit: h.scale(), Evidence: []capture.Instant{h.airAt, h.lastAt}}
}
