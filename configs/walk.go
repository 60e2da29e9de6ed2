package configs

import (
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers/pedal"
)

// pedal reads the foot pedal of the walk.
func (r *reader) pedal(n *yaml.Node, key string) {
	var input string
	lines := r.mapping(n, key, []field{{"input", r.text(&input)}})
	switch {
	case lines == nil:
	case lines["input"] == 0 || input == "":
		r.add(n.Line, join(key, "input"), "its path under /dev/input/by-id, or its name; steadyrail ports lists both", "missing")
	case strings.HasPrefix(input, "/dev/input/event"):
		r.add(lines["input"], join(key, "input"), "name it by its path under /dev/input/by-id or by-path, or by its name: the number changes when it is plugged in again", "%s is a number, not an identity", input)
	default:
		r.c.Pedal = pedal.Config{Input: input}
	}
}

// voice reads the command that speaks on this computer: a program and its
// arguments. What is to be said is added as the last one; no shell sees it.
func (r *reader) voice(n *yaml.Node, key string) {
	line := n.Line
	r.items(n, key, func(n *yaml.Node, key string) {
		var word string
		r.text(&word)(n, key)
		r.c.Voice = append(r.c.Voice, word)
	})
	if len(r.c.Voice) == 0 {
		r.add(line, key, "a program and its arguments, such as [spd-say, --wait]", "no program to speak with")
	}
}
