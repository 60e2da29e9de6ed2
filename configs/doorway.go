package configs

import (
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers"
)

// modelActs lists what may be done to instruments of a model.
func modelActs(m drivers.Models, model string) []string { return m[model].Acts() }

// lastWord asks the drivers, who must open it, about an item in which nothing
// was found wrong.
func (r *reader) lastWord(c drivers.Config, n *yaml.Node, key string) {
	for _, err := range each(drivers.Check(c, r.c.Models)) {
		what := strings.TrimPrefix(err.Error(), drivers.ErrConfig.Error()+": ")
		r.add(n.Line, key, "", "%s", what)
	}
}
