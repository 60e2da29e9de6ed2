// Package story is the demo's technician: someone who takes the Alderbrook 88
// stage piano through the whole job on the simulated bench, by the same acts
// that the screens and the command line use, and says in plain sentences what
// is done and what was measured.
//
// The hands are scripted: which probe goes where, which part is lifted, which
// fault strikes when. What comes of it is not. Every figure is a reading that
// came through a real port, every turn of the trimmer follows from one, and a
// word such as "convicted" from the computation over them.
package story

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf8"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/cmd/internal/app"
	"steadyrail/drivers/sim"
	"steadyrail/rules/trend"
)

// Shortest is the least time in which the story can be told.
const Shortest = 20 * time.Second

// Usual is how long it takes when nobody asks for a length.
const Usual = 3 * time.Minute

// Story is one telling. All fields are required but Since and Alarmed.
type Story struct {
	App     *app.App
	Bench   *sim.Bench
	Clock   *sim.Clock
	Leash   *Leash // attached to the App's bus
	Out     io.Writer
	Length  time.Duration         // wall time for the whole
	Folder  string                // the report goes here
	Since   time.Time             // when the program started, for the first reading's delay; zero: at Tell
	Alarmed func(context.Context) // see [Options]

	on      map[string]capture.ChannelID // what each meter's probe was last put to
	job     string
	sheet   capture.Sheet
	filed   map[string]string // what was filed about each lifted part
	null    float64           // ohm
	preset  float64           // volt
	gain    float64           // volt a turn, learned
	reached float64           // bench seconds a second that the meters could follow
	begun   time.Time
	budget  float64 // share of Length that the chapters so far should have taken
}

// chapter is a part of the story: its share of the whole, the bench time it is
// expected to need, and what is done.
type chapter struct {
	name  string
	share float64
	bench time.Duration
	tell  func(*Story, context.Context) error
}

var chapters = []chapter{
	{"Take-in", 0.02, 4 * time.Second, (*Story).takeIn},
	{"Cold checks", 0.13, 60 * time.Second, (*Story).coldChecks},
	{"Isolate", 0.12, 60 * time.Second, (*Story).isolate},
	{"Live checks", 0.08, 20 * time.Second, (*Story).liveChecks},
	{"Preset", 0.13, 60 * time.Second, (*Story).presetIt},
	{"Trim", 0.13, 60 * time.Second, (*Story).trimIt},
	{"Warm-up", 0.13, warmUp, (*Story).warmUp},
	{"Soak", 0.22, soakFor, (*Story).soak},
	{"Sign-off", 0.02, 5 * time.Second, (*Story).signOff},
}

// Tell tells the story and returns the path of the report.
func (s *Story) Tell(ctx context.Context) (report string, err error) {
	s.begun = time.Now()
	s.on, s.filed = map[string]capture.ChannelID{}, map[string]string{}
	if s.Since.IsZero() {
		s.Since = s.begun
	}
	for _, c := range chapters {
		s.budget += c.share
		s.pace(c.bench)
		s.say("\n%s", c.name)
		if err := c.tell(s, ctx); err != nil {
			return "", fmt.Errorf("%s: %w", c.name, err)
		}
	}
	s.slow(1)
	return s.reportPath(), nil
}

func (s *Story) reportPath() string { return filepath.Join(s.Folder, s.job+"-report.html") }

// least is what a chapter gets when those before it took all of its time.
const least = 100 * time.Millisecond

// left is the wall time until the chapter should be over.
func (s *Story) left() time.Duration {
	return max(time.Duration(s.budget*float64(s.Length))-time.Since(s.begun), least)
}

// fastest bounds how fast bench time may pass while hands are at work: beyond
// it the meters' answers are more than a second of bench time apart.
const fastest = 12

// rush is how fast it may pass while nothing is done but waiting. The leash
// slows it down to what the meters can follow.
const rush = 700

// pace sets the clock so that so much bench time fits into the chapter. Time
// under the hands never runs slower than real, and only waiting runs fast.
func (s *Story) pace(bench time.Duration) {
	if bench >= 5*time.Minute {
		s.Leash.hold() // before it may run
		s.Clock.SetSpeed(rush)
		return
	}
	s.slow(min(max(bench.Seconds()/s.left().Seconds(), 1), fastest))
}

// slow takes the clock to the speed of hands, then off the leash.
func (s *Story) slow(speed float64) {
	s.Clock.SetSpeed(speed)
	s.Leash.release()
}

// say prints a sentence, broken at words where a terminal of 80 columns would
// break it anywhere.
func (s *Story) say(format string, args ...any) {
	fmt.Fprintln(s.Out, wrapped(fmt.Sprintf(format, args...), 80))
}

// wrapped breaks lines at spaces. What goes on is indented by two more than it
// began; the spaces that align columns are kept.
func wrapped(text string, width int) string {
	var out []string
	for line := range strings.SplitSeq(text, "\n") {
		indent := strings.Repeat(" ", len(line)-len(strings.TrimLeft(line, " "))+2)
		for utf8.RuneCountInString(line) > width {
			cut := strings.LastIndex(string([]rune(line)[:width+1]), " ")
			if cut <= len(indent) {
				break
			}
			out = append(out, line[:cut])
			line = indent + strings.TrimLeft(line[cut:], " ")
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// act does something as the technician.
func (s *Story) act(ctx context.Context, a capture.Act) error {
	_, err := s.App.Act(ctx, s.job, a)
	return err
}

// stage enters a stage of the job.
func (s *Story) stage(ctx context.Context, st capture.Stage) error {
	return s.act(ctx, capture.Act{Verb: capture.ActStage, Stage: st})
}

// where is a place for a probe: on a rail, or at a point that is none.
type where struct {
	rail, point string
	hold        capture.Hold
}

// put moves a channel's probe: the record learns that it is on nothing, it is
// lifted, it touches, and only then the record learns where it is. Nothing is
// read under a name where it is not, not even the air on the way there.
func (s *Story) put(ctx context.Context, ch capture.ChannelID, w where) error {
	meter := ch.Instrument()
	if on, placed := s.on[meter]; placed {
		if _, err := s.App.Place(ctx, s.job, capture.Placement{Channel: on}); err != nil {
			return err
		}
	}
	if err := s.Bench.Lift(meter); err != nil {
		return err
	}
	if err := s.Bench.Touch(meter, w.point, w.hold); err != nil {
		return err
	}
	if err := s.wait(ctx, contact); err != nil {
		return err
	}
	s.on[meter] = ch
	_, err := s.App.Place(ctx, s.job, capture.Placement{Channel: ch, Rail: w.rail, Point: w.point, Return: "0 V", Hold: w.hold})
	return err
}

// contact is how long a hand takes to make contact, at the most, in bench time.
const contact = 200 * time.Millisecond

// errNothing is returned when a channel gives no reading in time.
var errNothing = errors.New("no reading")

// steadyAfter is how many readings in a row must agree, and steadyFor how long:
// what an isolation wants of a probe.
const (
	steadyAfter = 4
	steadyFor   = 600 * time.Millisecond
)

// steady waits until a channel's readings since an instant agree, and returns
// the last of them with the spread of those that agreed. Open leads are steady
// too. What does not agree within a minute of bench time is taken as it is.
func (s *Story) steady(ctx context.Context, ch capture.ChannelID, since capture.Instant) (live.Last, error) {
	return s.steadyWithin(ctx, ch, since, time.Minute)
}

// steadyWithin is steady with its own patience.
func (s *Story) steadyWithin(ctx context.Context, ch capture.ChannelID, since capture.Instant, patience time.Duration) (live.Last, error) {
	var last []live.Last
	until := s.Clock.Now().Add(patience)
	err := s.watch(ctx, func(snap live.Snapshot) bool {
		c, ok := snap.Channel(ch)
		if !ok || c.Last == nil || c.Last.At <= since || len(last) > 0 && c.Last.At == last[len(last)-1].At {
			return snap.Now > until
		}
		if !c.Last.Reading.HasValue() && !c.Last.Reading.Flags.Has(capture.OverRange) {
			return snap.Now > until
		}
		last = append(last, *c.Last)
		for !agree(last) {
			last = last[1:]
		}
		return len(last) >= steadyAfter && c.Last.At.Sub(last[0].At) >= steadyFor || snap.Now > until
	})
	if err == nil && len(last) == 0 {
		err = fmt.Errorf("%s: %w within %s", ch, errNothing, patience)
	}
	if err != nil {
		return live.Last{}, err
	}
	return last[len(last)-1], nil
}

// agree reports whether readings differ by less than 0.5 % or five counts of
// the last digit, volts by less than a millivolt, or are all open. What an
// ohmmeter left on a rail's capacitors goes by microvolts.
func agree(list []live.Last) bool {
	least, most := list[0].Reading, list[0].Reading
	for _, l := range list {
		if l.Reading.HasValue() != least.HasValue() {
			return false
		}
		if l.Reading.Value < least.Value {
			least = l.Reading
		}
		if l.Reading.Value > most.Value {
			most = l.Reading
		}
	}
	spread := most.Value - least.Value
	floor := 5 * most.Resolution
	if most.Quantity == capture.DCVoltage {
		floor = max(floor, 0.001)
	}
	return spread <= max(0.005*max(most.Value, -least.Value), floor)
}

// watch looks at the bench after every change until done says so.
func (s *Story) watch(ctx context.Context, done func(live.Snapshot) bool) error {
	changed, cancel := s.App.Subscribe()
	defer cancel()
	for {
		if done(s.App.Snapshot()) {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// wait lets bench time pass.
func (s *Story) wait(ctx context.Context, d time.Duration) error {
	fire, stop := s.Clock.After(d)
	defer stop()
	select {
	case <-fire:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// meanOf is how many readings a mean is taken over: the set's load wanders.
const meanOf = 15

// mean returns the next steady reading with the mean of those that follow it in
// place of its value.
func (s *Story) mean(ctx context.Context, ch capture.ChannelID, since capture.Instant) (capture.Reading, error) {
	l, err := s.steady(ctx, ch, since)
	if err != nil {
		return l.Reading, err
	}
	var m trend.Moments
	last := l.At
	err = s.watch(ctx, func(snap live.Snapshot) bool {
		if c, ok := snap.Channel(ch); ok && c.Last != nil && c.Last.At > last && c.Last.Reading.Good() {
			last = c.Last.At
			m.Add(c.Last.Reading.Value)
		}
		return m.N() >= meanOf || snap.Now.Sub(l.At) > time.Minute
	})
	if m.N() > 0 {
		l.Reading.Value = m.Mean()
	}
	return l.Reading, err
}

// read puts a channel somewhere and returns its steady reading.
func (s *Story) read(ctx context.Context, ch capture.ChannelID, w where) (capture.Reading, error) {
	if err := s.put(ctx, ch, w); err != nil {
		return capture.Reading{}, err
	}
	l, err := s.steady(ctx, ch, s.Clock.Now())
	return l.Reading, err
}

// text prints a reading for people.
func text(r capture.Reading) string {
	if r.Flags.Has(capture.OverRange) {
		return "open"
	}
	if !r.HasValue() {
		return r.Flags.String()
	}
	return r.Quantity.Unit().Text(r.Value, r.Resolution)
}

// verdict returns what a kind of rule says of a rail now.
func (s *Story) verdict(rail, kind string) (capture.Verdict, bool) {
	j, ok := s.App.Snapshot().Job(s.job)
	if !ok {
		return capture.Verdict{}, false
	}
	for _, r := range j.Rails {
		if r.Rail.Name != rail {
			continue
		}
		for _, v := range r.Verdicts {
			if v.Kind == kind {
				return v, true
			}
		}
	}
	return capture.Verdict{}, false
}
