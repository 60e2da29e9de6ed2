package configs

import (
	"steadyrail/capture"

	"go.yaml.in/yaml/v3"
)

// Handheld is a meter without a port. What a person reads from its display and
// types under its name is judged with its accuracy.
type Handheld struct {
	Name           string
	Title          string // for people; empty: the name
	CalibrationDue string
	Channels       []capture.ChannelInfo // ID is empty; one for each quantity
}

// handheld reads one item of the list.
func (r *reader) handheld(n *yaml.Node, key string) {
	var h Handheld
	lines := r.mapping(n, key, []field{
		{"name", r.identity(&h.Name)},
		{"title", r.text(&h.Title)},
		{"calibration_due", r.date(&h.CalibrationDue)},
		{"accuracy", func(n *yaml.Node, key string) {
			r.items(n, key, func(n *yaml.Node, key string) { r.handheldRange(&h, n, key) })
		}},
	})
	if lines == nil {
		return
	}
	if lines["name"] == 0 {
		r.add(n.Line, join(key, "name"), "a short word that names the meter, such as pocket", "missing")
	}
	r.checkName(h.Name, max(lines["name"], n.Line), join(key, "name"))
	r.c.Handhelds = append(r.c.Handhelds, h)
}

// handheldRange reads what the manual states for one range.
func (r *reader) handheldRange(h *Handheld, n *yaml.Node, key string) {
	var a capture.Accuracy
	var name string
	parts := "a part, not per cent: 0.005 is 0.5 %"
	lines := r.mapping(n, key, []field{
		{"quantity", r.text(&name)},
		{"range", r.amount(&a.Range, 1e-12, 1e12, "full scale in the base unit, such as 6")},
		{"resolution", r.amount(&a.Resolution, 1e-15, 1e12, "one count in the base unit, such as 0.001")},
		{"of_reading", r.amount(&a.OfReading, 0, 0.5, parts)},
		{"of_range", r.amount(&a.OfRange, 0, 0.5, parts)},
		{"digits", r.amount(&a.Digits, 0, 1000, "counts of the last digit, such as 2")},
		{"per_kelvin", r.amount(&a.PerKelvin, 0, 0.1, parts)},
		{"source", r.text(&a.Uncertainty)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"quantity", "range", "resolution", "source"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), handheldHints[must], "missing")
		}
	}
	if name == "" {
		return
	}
	q, err := capture.ParseQuantity(name)
	if err != nil {
		r.add(lines["quantity"], join(key, "quantity"), "", "%v", err)
		return
	}
	for i := range h.Channels {
		if h.Channels[i].Quantity == q {
			h.Channels[i].Accuracy = append(h.Channels[i].Accuracy, a)
			return
		}
	}
	h.Channels = append(h.Channels, capture.ChannelInfo{Quantity: q, Accuracy: []capture.Accuracy{a}})
}

var handheldHints = map[string]string{
	"quantity":   "what it measures, such as dc_voltage or resistance",
	"range":      "full scale in the base unit, such as 6",
	"resolution": "one count in the base unit, such as 0.001",
	"source":     "where the figures stand, such as \"manual, page 12\"",
}
