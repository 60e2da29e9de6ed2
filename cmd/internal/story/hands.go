package story

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
	"steadyrail/drivers/sim"
	"steadyrail/rules/coverage"
)

// Hands are what a person moves the simulated bench with: probes, parts, the
// trimmer, the supply's leads, and time. The record learns nothing of it.
// Safe for concurrent use.
type Hands struct {
	bench *sim.Bench
	clock *sim.Clock
	leash *Leash

	mu     sync.Mutex
	probes map[string]web.HandProbe // as hands left them; guarded by mu
	out    map[string]bool          // parts off the board; guarded by mu
	feed   string                   // guarded by mu

	journal *journal // what hands did is kept there; nil: nowhere
}

func newHands(b *sim.Bench, c *sim.Clock, l *Leash) *Hands {
	return &Hands{bench: b, clock: c, leash: l, probes: map[string]web.HandProbe{}, out: map[string]bool{sim.StandIn: true}, feed: sim.FeedBoard}
}

// usage is what hands can do, a line each: [Hands.Do] takes them as words.
var usage = []string{
	"probe METER POINT        touch a point with a meter's probe: probe dmm TP5",
	"probe METER POINT clip   clip it there: hands off, as a soak needs it",
	"probe METER off          lift it into the air",
	"part PART out            unplug a connector, lift a part, take the stand-in off",
	"part PART in             put it back, or the stand-in into the place of PS2",
	"feed PLACE               put the supply's leads on board, stand-in, TP5 or nothing",
	"supply clear             press its key that clears a protection which tripped",
	"turn TURNS               turn the trimmer of the stand-in, up positive: turn 0.75",
	"fault NAME [ARGUMENTS]   let something go wrong: fault input joint 1.8s; fault clear",
	"speed N                  let bench time run N times as fast, 1 to 700: a soak in minutes",
}

// Look says where everything is. Where the story has moved things, it does not
// know.
func (h *Hands) Look() web.Hands {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := web.Hands{
		Points: sim.Points(), Warm: []string{sim.PointRoom, sim.PointCase}, Feed: h.feed,
		Feeds: sim.Feeds(), Speed: h.clock.Speed(), Lost: h.clock.Lost().Seconds(), Usage: usage,
	}
	for _, name := range []string{sim.DMM, sim.DMM2, sim.DMM3, sim.DMM4, sim.Thermo} {
		p := h.probes[name]
		p.Meter, p.Bead = name, name == sim.Thermo
		out.Probes = append(out.Probes, p)
	}
	for _, part := range sim.Parts() {
		out.Parts = append(out.Parts, web.HandPart{Name: part, In: !h.out[part]})
	}
	for _, f := range sim.Faults() {
		out.Faults = append(out.Faults, web.HandFault(f))
	}
	return out
}

// Do does what the words say, see usage, and says what was done.
func (h *Hands) Do(words []string) (say string, err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if say, err = h.do(words); err != nil {
		return "", err
	}
	return say + h.keep(words), nil
}

func (h *Hands) do(words []string) (say string, err error) {
	verb, rest := "", words
	if len(words) > 0 {
		verb, rest = words[0], words[1:]
	}
	do := map[string]func([]string) (string, error){
		"probe": h.probe, "part": h.part, "feed": h.lead, "supply": h.key, "turn": h.turn, "fault": h.fault, "speed": h.speed,
	}[verb]
	if do == nil || len(rest) == 0 {
		return "", fmt.Errorf("hands do not know %q; they do:\n  %s", strings.Join(words, " "), strings.Join(usage, "\n  "))
	}
	return do(rest)
}

func (h *Hands) probe(words []string) (string, error) {
	meter, words := words[0], words[1:]
	hold, last := capture.Touched, ""
	if n := len(words); n > 0 {
		last = words[n-1]
	}
	switch last {
	case "":
		return "", fmt.Errorf("probe %s: say where it goes, such as probe %[1]s TP5, or probe %[1]s off", meter)
	case "off":
		if err := h.bench.Lift(meter); err != nil {
			return "", err
		}
		delete(h.probes, meter)
		return "The probe of " + meter + " is in the air.", nil
	case "clip":
		hold, words = capture.Clipped, words[:len(words)-1]
	}
	point := strings.Join(words, " ")
	if err := h.bench.Touch(meter, point, hold); err != nil {
		return "", err
	}
	h.probes[meter] = web.HandProbe{At: point, Clip: hold == capture.Clipped}
	return fmt.Sprintf("The probe of %s is on %s, %s.", meter, point, hold), nil
}

func (h *Hands) part(words []string) (string, error) {
	way := words[len(words)-1]
	part := strings.Join(words[:len(words)-1], " ")
	switch way {
	case "out":
		if err := h.bench.Unplug(part); err != nil {
			return "", err
		}
		h.out[part] = true
		return part + " is off the board.", nil
	case "in":
		if err := h.bench.Plug(part); err != nil {
			return "", err
		}
		if part == sim.StandIn && (h.feed == sim.FeedStandIn || h.feed == sim.FeedRail5) {
			h.feed = sim.FeedNothing // the leads were on it or its rail, and come off
		}
		delete(h.out, part)
		return part + " is in its place.", nil
	}
	return "", fmt.Errorf("part: say in or out behind the part, such as part PS2 out; parts: %s", strings.Join(sim.Parts(), ", "))
}

func (h *Hands) lead(words []string) (string, error) {
	to := strings.Join(words, " ")
	if err := h.bench.Feed(to); err != nil {
		return "", err
	}
	h.feed = to
	return "The supply's leads are on " + to + ".", nil
}

func (h *Hands) key(words []string) (string, error) {
	if len(words) != 1 || words[0] != "clear" {
		return "", errors.New("supply: hands press one key there: supply clear")
	}
	if !h.bench.ClearTrips() {
		return "No protection of the supply has tripped.", nil
	}
	return "The supply's protection is cleared; its output stays off.", nil
}

func (h *Hands) turn(words []string) (string, error) {
	turns, err := strconv.ParseFloat(strings.Replace(words[0], capture.MinusSign, "-", 1), 64)
	if err != nil || len(words) > 1 || !(turns >= -25 && turns <= 25) {
		return "", fmt.Errorf("turn: %q is no number of turns from -25 to 25, such as 0.75", strings.Join(words, " "))
	}
	wait := h.bench.Turn(turns)
	return fmt.Sprintf("The trimmer turns by %g; the blade is out of the slot in %.1f s.", turns, wait.Seconds()), nil
}

// fault finds the fault whose name begins the words: a name may have a space.
func (h *Hands) fault(words []string) (string, error) {
	name, args := faultOf(words)
	err := h.bench.Fault(name, args...)
	if err == nil && name == "clear" {
		return "Joint, short, load step and welded relay are as they were.", nil
	}
	if err == nil {
		return "It happens: " + strings.Join(words, " ") + ".", nil
	}
	var usages []string
	for _, f := range sim.Faults() {
		if f.Name == name {
			return "", fmt.Errorf("fault: %s", strings.TrimPrefix(err.Error(), sim.ErrFault.Error()+": "))
		}
		usages = append(usages, f.Usage)
	}
	return "", fmt.Errorf("nothing goes wrong by the name of %q; there are:\n  fault %s", name, strings.Join(usages, "\n  fault "))
}

// speed sets how fast the bench lives. Beyond what hands can follow the clock
// waits for the meters, see [Leash].
func (h *Hands) speed(words []string) (string, error) {
	n, err := strconv.ParseFloat(words[0], 64)
	if err != nil || len(words) > 1 || !(n >= 1 && n <= rush) {
		return "", fmt.Errorf("speed: %q is not between 1 and %d", strings.Join(words, " "), rush)
	}
	if n > fastest {
		h.leash.hold() // before it may run
		h.clock.SetSpeed(n)
		hour := coverage.Long(time.Duration(float64(time.Hour) / n).Round(time.Second))
		return fmt.Sprintf("Bench time runs up to %g times as fast as the clock on the wall, as far as the meters can follow. An hour takes %s or more; speed 1 before hands go in again.", n, hour), nil
	}
	h.clock.SetSpeed(n)
	h.leash.release()
	if n == 1 {
		return "Bench time runs as fast as the clock on the wall.", nil
	}
	return fmt.Sprintf("Bench time runs %g times as fast as the clock on the wall.", n), nil
}
