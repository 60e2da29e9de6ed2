package kind

import (
	"fmt"
	"math"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// Check reports the first thing that is wrong with a rule as written.
func Check(r capture.Rule) error {
	k, known := Find(r.Kind)
	switch {
	case r.Name == "":
		return fmt.Errorf("a rule needs a name")
	case !known:
		return fmt.Errorf("rule %s: unknown kind %q: use %s", r.Name, r.Kind, names())
	case r.Rail == "":
		return fmt.Errorf("rule %s: say which rail it judges", r.Name)
	case r.OnDelay < 0 || r.OffDelay < 0 || r.Window < 0:
		return fmt.Errorf("rule %s: a delay or window cannot be negative", r.Name)
	case !(r.Deadband >= 0) || math.IsInf(r.Deadband, 0) || r.Count < 0:
		return fmt.Errorf("rule %s: deadband and count must be zero or more", r.Name)
	case math.IsNaN(r.Limit) || math.IsInf(r.Limit, 0):
		return fmt.Errorf("rule %s: the limit must be a number", r.Name)
	case k.Asks && r.Limit == 0:
		return fmt.Errorf("rule %s: %s needs a limit, for none follows from a rail", r.Name, r.Kind)
	}
	if r.Kind == "settled" && r.Window > 0 && r.Window < trend.LeastWatch {
		return fmt.Errorf("rule %s: nothing is called settled before %d min: write a longer window", r.Name, trend.LeastWatch/time.Minute)
	}
	if err := checkAgainst(k, r); err != nil {
		return err
	}
	return checkBounds(r)
}

func names() string {
	var list []string
	for _, k := range Table() {
		list = append(list, k.Name)
	}
	return strings.Join(list[:len(list)-1], ", ") + " or " + list[len(list)-1]
}

// RailAgainst reports whether the rule holds its rail against another rail.
func RailAgainst(r capture.Rule) bool {
	k, known := Find(r.Kind)
	return known && k.Against == AgainstRail
}

func checkAgainst(k Kind, r capture.Rule) error {
	switch {
	case k.Against == AgainstNothing && r.Against != "":
		return fmt.Errorf("rule %s: %s is held against nothing: leave against out", r.Name, r.Kind)
	case k.Against == AgainstRail && r.Against == "":
		return fmt.Errorf("rule %s: say in against which rail comes up first", r.Name)
	case k.Against == AgainstOutput && (r.Against == "" || r.Trip != ""):
		return fmt.Errorf("rule %s: a rule of kind %s watches an output and is not written: write trip: beside the rule that is to switch off", r.Name, r.Kind)
	case k.Against == AgainstRail && r.Against == r.Rail, r.Of != "" && r.Against == string(r.Of):
		return fmt.Errorf("rule %s: %s cannot be held against itself", r.Name, r.Against)
	}
	return nil
}

func checkBounds(r capture.Rule) error {
	b := r.Bounds
	switch {
	case b == (capture.Bounds{}) && r.Kind == "band" && formula(r.Of):
		return fmt.Errorf("rule %s: say low and high: the rail's own are about its voltage", r.Name)
	case b == (capture.Bounds{}):
		return nil
	case r.Kind != "band":
		return fmt.Errorf("rule %s: %s takes no low and high, only band does", r.Name, r.Kind)
	case math.IsNaN(b.Low) || math.IsNaN(b.High) || b.Low >= b.High || math.IsInf(b.Low, 1) || math.IsInf(b.High, -1) || !b.HasLow() && !b.HasHigh():
		return fmt.Errorf("rule %s: low must lie below high", r.Name)
	}
	return nil
}

func formula(id capture.ChannelID) bool { return id.Instrument() == capture.FormulaInstrument }
