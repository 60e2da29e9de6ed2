package configs

import (
	"fmt"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers"
	"steadyrail/rules/earth"
)

func (r *reader) isolation(c *drivers.Config, n *yaml.Node, key string) {
	iso := &c.Isolation
	r.mapping(n, key, []field{
		{"category", r.category(&iso.Category)},
		{"port", r.choice(&iso.Port, "isolated", "earthed")},
		{"port_volts", r.amount(&iso.PortVolts, 1, mostPortVolts, "the working voltage between the inputs and the computer's side in volt, such as 300")},
		{"probe", r.category(&iso.Probe)},
		{"output", r.choice(&iso.Output, "floating", "earthed")},
		{"channels", r.choice(&iso.Channels, "isolated", "shared")},
		{"sensor", r.choice(&iso.Sensor, "insulated", "bare")},
	})
}

// mostPortVolts is more than any bench instrument's barrier works at: what is
// above it is a test voltage of a minute, or a slip.
const mostPortVolts = 2000

// category reads a measurement category with its voltage.
func (r *reader) category(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		r.text(into)(n, key)
		if *into != "" && CheckCategory(*into) != nil {
			r.add(n.Line, key, categoryHint, "%q is no measurement category with its voltage", cut(*into))
		}
	}
}

const categoryHint = "write what stands beside the sockets with its voltage, such as CAT II 300 V"

// CheckCategory reports why a text is no measurement category of IEC 61010-2-030,
// or several of them: without its voltage a category tells nothing.
func CheckCategory(s string) error {
	if _, err := earth.ParseRatings(s); err != nil {
		return fmt.Errorf("%q is no measurement category with its voltage: %s", cut(s), categoryHint)
	}
	return nil
}
