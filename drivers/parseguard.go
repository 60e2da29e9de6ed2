package drivers

import (
	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
)

// guardState reads how a protection comes to act: the word always, or the phrases
// of its switch.
func (r *reader) guardState(n *yaml.Node, l *scpi.Limit) {
	if n.Kind == yaml.ScalarNode {
		l.Always = r.always(n, "want always, or {on, ask}")
		return
	}
	l.State = &scpi.State{}
	r.mapping(n, "state",
		field{"on", true, r.phrase(&l.State.On, "on", scpi.CheckPhrase)},
		field{"ask", true, r.phrase(&l.State.Ask, "ask", scpi.CheckQuery)},
	)
}

func (r *reader) always(n *yaml.Node, want string) bool {
	s, _ := r.scalar(n, "state")
	if s != "always" {
		r.wrong(n, "state: %q: %s", s, want)
	}
	return s == "always"
}

// onlyGuards refuses a state or a trip of what is no protection.
func (r *reader) onlyGuards(n *yaml.Node, name string) {
	if (peeked(n, "state") || peeked(n, "tripped")) && name != capture.OverVoltage && name != capture.OverCurrent {
		r.wrong(n, "limit %s: state and tripped are for %s and %s only", name, capture.OverVoltage, capture.OverCurrent)
	}
}
