package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// Allowed refuses an act that the configuration does not list. can is what the
// instrument's model has: what is not in it no configuration allows.
func Allowed(acts, can []string, verb capture.Verb) error {
	switch {
	case slices.Contains(acts, string(verb)) || verb == capture.ActReadBack && len(acts) > 0:
		return nil // reading back changes nothing
	case len(can) == 0:
		return fmt.Errorf("%w: its model has nothing to switch or to set; name another instrument", ErrNotAllowed)
	case verb != capture.ActReadBack && !slices.Contains(can, string(verb)):
		return fmt.Errorf("%w: its model has no %s, only %s; name another instrument", ErrNotAllowed, verb, strings.Join(can, " and "))
	}
	return fmt.Errorf("%w: add %q to the acts of this instrument in the configuration", ErrNotAllowed, verb)
}

// ErrNoAct is for verbs that no instrument has.
var ErrNoAct = fmt.Errorf("%w: nothing can be done to an instrument under that name", ErrNotAllowed)

// Bound is what a model says of a set-point or a protection.
type Bound struct {
	Name string // volts, amperes, over-voltage, over-current
	Unit capture.Unit
	Step float64 // base unit; what is read back may be this far off
	Max  float64 // base unit; more is refused
	On   Guard   // of a protection: what is known of its being on
}

// Setting is one thing that an act asks for: the bound of this index, and the
// value in the base unit.
type Setting struct {
	At    int
	Value float64
	On    bool // its protection must read back as on, too
}

// ParseLimits reads "volts 24, amperes 0.3". Errors wrap [ErrNotAllowed].
func ParseLimits(text string, bounds []Bound) ([]Setting, error) {
	var list []Setting
	for _, part := range strings.Split(text, ",") {
		name, number, _ := strings.Cut(strings.TrimSpace(part), " ")
		at := slices.IndexFunc(bounds, func(b Bound) bool { return b.Name == name })
		if at < 0 {
			return nil, fmt.Errorf("%w: it has no limit %q: use %s", ErrNotAllowed, name, names(bounds))
		}
		b := bounds[at]
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil || math.IsNaN(v) || v < 0 || v > b.Max {
			return nil, fmt.Errorf("%w: %s %q: want a number from 0 to %g %s", ErrNotAllowed, name, number, b.Max, b.Unit.ASCII())
		}
		if slices.ContainsFunc(list, func(s Setting) bool { return s.At == at }) {
			return nil, fmt.Errorf("%w: %s is given twice", ErrNotAllowed, name)
		}
		list = append(list, Setting{At: at, Value: v})
	}
	return list, nil
}

func names(bounds []Bound) string {
	var out []string
	for _, b := range bounds {
		out = append(out, b.Name)
	}
	if len(out) == 0 {
		return "another instrument"
	}
	return strings.Join(out, ", ")
}

// Panel is how a dialect sets and reads back the bound of an index.
type Panel struct {
	Set func(at int, v float64) error
	Get func(at int) (float64, error)
	// Unconfirmed is the error of what does not read back as it was set.
	Unconfirmed func(what string) error
	// TurnOn switches a protection on and reports whether there is such a switch;
	// IsOn asks for it. Only for a bound whose protection is [Switched].
	TurnOn func(at int) (bool, error)
	IsOn   func(at int) (bool, error)
}

// Program sets everything, in an order in which each step can be taken, reads
// each back, and says so in a sentence.
func (p Panel) Program(bounds []Bound, list []Setting) (string, error) {
	list, err := p.inOrder(bounds, list)
	if err != nil {
		return "", err
	}
	var said []string
	for _, s := range list {
		one, err := p.program(bounds[s.At], s)
		if err != nil {
			return "", err
		}
		said = append(said, one)
	}
	return strings.Join(said, ", ") + ", read back", nil
}

// ReadBack sends nothing that changes anything: it reads each back, and the
// error is Unconfirmed's when one is not as it should be.
func (p Panel) ReadBack(bounds []Bound, list []Setting) (string, error) {
	var said []string
	for _, s := range list {
		one, err := p.confirm(bounds[s.At], s)
		if err == nil {
			one, err = p.guarded(one, bounds[s.At], s, false)
		}
		if err != nil {
			return "", err
		}
		said = append(said, one)
	}
	return strings.Join(said, ", "), nil
}

func (p Panel) program(b Bound, s Setting) (string, error) {
	if err := p.Set(s.At, s.Value); err != nil {
		return "", err
	}
	said, err := p.confirm(b, s)
	if err != nil {
		return "", err
	}
	return p.guarded(said, b, s, true)
}

// confirm reads back what should stand there, within a step.
func (p Panel) confirm(b Bound, s Setting) (string, error) {
	got, err := p.Get(s.At)
	if err != nil {
		return "", err
	}
	said := fmt.Sprintf("%s %s %s", b.Name, capture.Figure(got, b.Step), b.Unit.Symbol())
	if math.Abs(got-s.Value) > 1.001*b.Step {
		return "", p.Unconfirmed("it reads back as " + said)
	}
	return said, nil
}

// protects says which protection goes with which set-point.
var protects = map[string]string{"over-voltage": "volts", "over-current": "amperes"}

// inOrder puts protection behind the set-point it guards when the set-point is
// under the protection that is in force, and before it when it is above: either
// way no step is refused, and the set-point never stands above its protection.
func (p Panel) inOrder(bounds []Bound, list []Setting) ([]Setting, error) {
	var first, points, guards []Setting
	for _, s := range list {
		guarded, ok := protects[bounds[s.At].Name]
		if !ok {
			points = append(points, s)
			continue
		}
		now, err := p.Get(s.At)
		if err != nil {
			return nil, err
		}
		if valueOf(bounds, list, guarded) > now {
			first = append(first, s)
		} else {
			guards = append(guards, s)
		}
	}
	return slices.Concat(first, points, guards), nil
}

func valueOf(bounds []Bound, list []Setting, name string) float64 {
	for _, s := range list {
		if bounds[s.At].Name == name {
			return s.Value
		}
	}
	return 0
}

// State words the answer to [capture.ActReadBack]: the output first, then what
// was held against what it should be.
func State(is, said string) string {
	if said == "" {
		return "output " + is
	}
	return "output " + is + ", " + said
}
