package rules

import (
	"bufio"
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// scenario is a file of testdata/scenarios, which says in its README how one
// is written.
type scenario struct {
	rails    []capture.Rail
	channels []capture.ChannelInfo
	rules    []capture.Rule // beside the implied ones
	formulas []capture.Formula
	bare     bool // no implied rules
	records  []capture.Record
	autoOff  time.Duration
	end      float64
	alarms   []expectation
	verdicts []expectation
	trips    []expectation
}

type expectation struct {
	line int
	at   float64
	want string // "collapse +5 V logic active", then muted, then say
	say  string
	mute string
}

// epoch is when scenarios begin: a point of the tick grid.
const epoch = capture.Instant(1_800_000_000_000_000)

func at(seconds float64) capture.Instant {
	return epoch + capture.Instant(seconds*1e6+0.5)
}

func readScenario(t testing.TB, path string) *scenario {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s := &scenario{}
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line, _, _ := strings.Cut(lines.Text(), " #")
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if err := s.line(n, line); err != nil {
			t.Fatalf("%s:%d: %v: %q", path, n, err, line)
		}
	}
	slices.SortStableFunc(s.records, func(a, b capture.Record) int { return cmp.Compare(a.At, b.At) })
	return s
}

func (s *scenario) line(n int, line string) error {
	verb, rest, _ := strings.Cut(line, " ")
	switch verb {
	case "rail":
		return s.rail(rest)
	case "channel":
		return s.channel(rest)
	case "rule":
		return s.rule(rest)
	case "formula":
		return s.formula(rest)
	case "at":
		return s.at(rest)
	case "from":
		return s.from(rest)
	case "auto-off":
		var err error
		s.autoOff, err = time.ParseDuration(rest)
		return err
	case "end":
		return scan(rest, &s.end)
	case "alarm":
		return s.expect(n, rest, &s.alarms)
	case "verdict":
		return s.expect(n, rest, &s.verdicts)
	case "trip":
		return s.expect(n, rest, &s.trips)
	}
	return fmt.Errorf("unknown verb %s", verb)
}

func scan(s string, v *float64) (err error) {
	*v, err = strconv.ParseFloat(strings.TrimSpace(s), 64)
	return err
}

// rail +5 V logic: nominal 5, low 4.9, high 5.1, reset 4.63, short 5, fed +12 V audio
func (s *scenario) rail(text string) error {
	name, parts, _ := strings.Cut(text, ": ")
	r := capture.Rail{Name: name, Bounds: capture.NoBounds(), ShortBelow: capture.DefaultShortBelow}
	for _, p := range strings.Split(parts, ", ") {
		key, val, _ := strings.Cut(p, " ")
		var v float64
		if key == "fed" {
			r.FedFrom = val
			continue
		}
		if err := scan(val, &v); err != nil {
			return err
		}
		switch key {
		case "nominal":
			r.Nominal, r.Target = v, v
		case "low":
			r.Bounds.Low = v
		case "high":
			r.Bounds.High = v
		case "reset":
			r.ResetBelow = v
		case "short":
			r.ShortBelow = v
		default:
			return fmt.Errorf("unknown key %s", key)
		}
	}
	s.rails = append(s.rails, r)
	return r.Validate()
}

// channel dmm/volts dc_voltage every 200ms [read back]
func (s *scenario) channel(text string) error {
	f := strings.Fields(text)
	q, err := capture.ParseQuantity(f[1])
	if err != nil {
		return err
	}
	every, err := time.ParseDuration(f[3])
	ch := capture.ChannelInfo{ID: capture.ChannelID(f[0]), Quantity: q, Every: every, Group: "input", Setpoint: strings.HasSuffix(text, "read back")}
	if ch.Setpoint || q == capture.Temperature {
		ch.Group = ""
	}
	describe(&ch, f[4:])
	s.channels = append(s.channels, ch)
	return err
}

// rule none · rule NAME: kind K, rail R, on 1s, off 1s, deadband 0.02, limit 4, latch
func (s *scenario) rule(text string) error {
	if text == "none" {
		s.bare = true
		return nil
	}
	name, parts, _ := strings.Cut(text, ": ")
	r := capture.Rule{Name: name, Severity: capture.Warning}
	for _, p := range strings.Split(parts, ", ") {
		key, val, _ := strings.Cut(p, " ")
		var err error
		switch key {
		case "kind":
			r.Kind = val
		case "rail":
			r.Rail = val
		case "on":
			r.OnDelay, err = time.ParseDuration(val)
		case "off":
			r.OffDelay, err = time.ParseDuration(val)
		case "deadband":
			err = scan(val, &r.Deadband)
		case "limit":
			err = scan(val, &r.Limit)
		case "window":
			r.Window, err = time.ParseDuration(val)
		case "count":
			r.Count, err = strconv.Atoi(val)
		case "of":
			r.Of = capture.ChannelID(val)
		case "against":
			r.Against = val
		case "low", "high":
			err = side(&r.Bounds, key, val)
		case "latch":
			r.Latch = true
		case "trip":
			r.Trip = val
		default:
			err = fmt.Errorf("unknown key %s", key)
		}
		if err != nil {
			return err
		}
	}
	s.rules = append(s.rules, r)
	return nil
}

// at 3 clip dmm/volts on +5 V logic · touch · lift · stage soak · heard · reset · output off · null 0.2 ·
// mute 600 · lost dmm: why · back dmm · gap 30 · close · remove NAME
func (s *scenario) at(text string) error {
	var sec float64
	when, rest, _ := strings.Cut(text, " ")
	if err := scan(when, &sec); err != nil {
		return err
	}
	verb, rest, _ := strings.Cut(rest, " ")
	ch, rail, _ := strings.Cut(rest, " on ")
	var item capture.Item
	var v float64
	switch verb {
	case "clip":
		item = capture.Placement{Channel: capture.ChannelID(ch), Rail: rail, Hold: capture.Clipped}
	case "touch":
		item = capture.Placement{Channel: capture.ChannelID(ch), Rail: rail}
	case "lift":
		item = capture.Placement{Channel: capture.ChannelID(ch)}
	case "stage":
		item = capture.Act{Verb: capture.ActStage, Stage: capture.Stage(rest)}
	case "heard":
		item = capture.Act{Verb: capture.ActHeard, Subject: rest, By: "K. Alder"}
	case "reset":
		item = capture.Act{Verb: capture.ActReset, Subject: rest, By: "K. Alder"}
	case "output":
		text, by, _ := strings.Cut(rest, " by ")
		item = capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text, By: by}
		if text == "off" && by == capture.ByTrip {
			item = capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text, By: by, Value: 0.083}
		}
	case "inject": // a length in seconds at the start, why it ended at the end
		item = capture.Act{Verb: capture.ActInject, Subject: "supply", Text: rest}
		if scan(rest, &v) == nil {
			item = capture.Act{Verb: capture.ActInject, Subject: "supply", Text: "start: volts 0.3, amperes 0.5", Value: v}
		}
	case "limits":
		item = capture.Act{Verb: capture.ActLimits, Subject: "supply", Text: rest}
	case "readback":
		item = capture.Act{Verb: capture.ActReadBack, Subject: "supply", Text: rest}
	case "lost":
		subject, why, _ := strings.Cut(rest, ": ")
		item = capture.Act{Verb: capture.ActLinkLost, Subject: subject, Text: why}
	case "back":
		item = capture.Act{Verb: capture.ActLinkBack, Subject: rest}
	case "close":
		item = capture.Act{Verb: capture.ActClose}
	case "null", "mute", "gap":
		if err := scan(rest, &v); err != nil {
			return err
		}
		item = map[string]capture.Item{
			"null": capture.Act{Verb: capture.ActNull, Value: v},
			"mute": capture.Act{Verb: capture.ActMute, Value: v},
			"gap":  capture.Gap{From: at(sec - v), To: at(sec), Reason: "not running"},
		}[verb]
	default:
		return fmt.Errorf("unknown act %s", verb)
	}
	s.records = append(s.records, capture.Record{At: at(sec) + 7, Item: item})
	return nil
}

// from 1 to 60 dmm/volts reads 5.011 · ramps 5 to 4.2 · is over_range · alternates 5 3
func (s *scenario) from(text string) error {
	f := strings.Fields(text)
	var from, to, a, b float64
	if err := cmp.Or(scan(f[0], &from), scan(f[2], &to)); err != nil {
		return err
	}
	info, n := capture.ChannelInfo{}, 0
	for i, c := range s.channels {
		if string(c.ID) == f[3] {
			info, n = c, i+1
		}
	}
	if n == 0 {
		return fmt.Errorf("no channel %s", f[3])
	}
	r := capture.Reading{Channel: info.ID, Quantity: info.Quantity, Resolution: 0.001}
	var err error
	switch f[4] {
	case "reads":
		err = scan(f[5], &a)
		b = a
	case "settles", "falls":
		return s.shaped(f, info, n)
	case "ramps", "alternates":
		err = cmp.Or(scan(f[5], &a), scan(f[map[string]int{"ramps": 7, "alternates": 6}[f[4]]], &b))
	case "is":
		r.Flags, err = capture.ParseFlags(f[5])
	}
	if f[len(f)-1] == "limiting" {
		r.Flags |= capture.Limiting
	}
	for k := 0; ; k++ {
		t := from + float64(k)*info.Every.Seconds()
		if t >= to-1e-9 {
			return err
		}
		r.Value = a + (b-a)*(t-from)/(to-from)
		if f[4] == "alternates" {
			r.Value = []float64{a, b}[k%2]
		}
		noisy(&r, f, k)
		s.records = append(s.records, capture.Record{At: at(t) + capture.Instant(1000*n+13), Item: r})
	}
}

// alarm 60 collapse +5 V logic latched, muted "…", says "…"
func (s *scenario) expect(n int, text string, list *[]expectation) error {
	when, rest, _ := strings.Cut(text, " ")
	x := expectation{line: n}
	if rest, says, ok := strings.Cut(rest, ", says "); ok {
		x.want, x.say = rest, strings.Trim(says, `"`)
	} else {
		x.want = rest
	}
	if want, mute, ok := strings.Cut(x.want, ", muted "); ok {
		x.want, x.mute = want, strings.Trim(mute, `"`)
	}
	*list = append(*list, x)
	return scan(when, &(*list)[len(*list)-1].at)
}

// log returns the scenario's records as a job's log has them, opening ones
// first.
func (s *scenario) log(change func([]capture.Rule)) []capture.Record {
	sheet := capture.Sheet{Job: "AB-0147", Rails: s.rails}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "all", Channels: s.channels, AutoOff: s.autoOff}}}
	var implied []capture.Rule
	if !s.bare {
		implied = Implied(sheet, roster)
	}
	rules := Written(implied, s.rules)
	if change != nil {
		change(rules)
	}
	out := []capture.Record{{At: epoch + 1, Item: sheet}, {At: epoch + 2, Item: roster}, {At: epoch + 3, Item: capture.RuleSet{Rules: rules, Formulas: s.formulas}}}
	return append(out, s.records...)
}

// play runs records and ticks through a new engine as the bus does.
func play(log []capture.Record, end float64) (out Output) {
	e := New("")
	f := feeder{take: func(r capture.Record) {
		o := e.Consume(r)
		out.Transitions = append(out.Transitions, o.Transitions...)
		for _, v := range o.Verdicts {
			v.From, v.To = 0, r.At
			out.Verdicts = append(out.Verdicts, v)
		}
		out.Trips = append(out.Trips, o.Trips...)
	}}
	for _, r := range log {
		_ = f.feed(bg, r)
	}
	_ = f.ticks(bg, at(end))
	return out
}

// check returns what differs from what the scenario expects.
func (s *scenario) check(out Output) (wrong []string) {
	for i, x := range s.alarms {
		if i >= len(out.Transitions) {
			wrong = append(wrong, fmt.Sprintf("line %d: alarm at %g s did not come: %s", x.line, x.at, x.want))
			continue
		}
		g := out.Transitions[i]
		got := g.Rule + " " + g.To.String()
		sec := float64(g.At-epoch) / 1e6
		if got != x.want || sec < x.at-0.001 || sec > x.at+0.11 || g.Muted != x.mute || x.say != "" && plain(g.Say) != x.say {
			wrong = append(wrong, fmt.Sprintf("line %d: want at %g s %s, muted %q, %q; got at %.3f s %s, muted %q, %q", x.line, x.at, x.want, x.mute, x.say, sec, got, g.Muted, plain(g.Say)))
		}
	}
	for _, g := range out.Transitions[min(len(s.alarms), len(out.Transitions)):] {
		wrong = append(wrong, fmt.Sprintf("unexpected at %.3f s: %s %s, muted %q, %q", float64(g.At-epoch)/1e6, g.Rule, g.To, g.Muted, plain(g.Say)))
	}
	wrong = append(wrong, s.checkTrips(out.Trips)...)
	for _, x := range s.verdicts {
		got := "none"
		for _, v := range out.Verdicts {
			if v.To <= at(x.at) && v.Rule == x.want {
				got = plain(v.Say) + " (" + v.Outcome.String() + ")"
			}
		}
		if got != x.say {
			wrong = append(wrong, fmt.Sprintf("line %d: verdict at %g s of %s: want %q, got %q", x.line, x.at, x.want, x.say, got))
		}
	}
	return wrong
}

// plain makes of a sentence what a keyboard can write.
func plain(s string) string {
	return strings.NewReplacer("\u00a0", " ", "\u2212", "-", "\u202f", " ").Replace(s)
}

func scenarios(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob("../testdata/scenarios/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scenarios: %v", err)
	}
	return files
}

func TestScenarios(t *testing.T) {
	for _, path := range scenarios(t) {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txt"), func(t *testing.T) {
			s := readScenario(t, path)
			for _, w := range s.check(play(s.log(nil), s.end)) {
				t.Error(w)
			}
		})
	}
}

func TestEveryKindHasAScenario(t *testing.T) {
	raised := map[string]bool{}
	for _, path := range scenarios(t) {
		s := readScenario(t, path)
		for _, tr := range play(s.log(nil), s.end).Transitions {
			raised[tr.Kind] = true
		}
	}
	for _, k := range Kinds() {
		if !raised[k] {
			t.Errorf("no scenario raises an alarm of kind %s", k)
		}
	}
}
