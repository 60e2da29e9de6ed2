package app_test

import (
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
)

// shown is a fault of an instrument and what the person sees of it.
type shown struct {
	name  string
	begin func(*rig, string) // by the meter's name
	end   func(*rig, string)
	quiet bool          // it is no trouble: the rail reads on, and nothing is raised
	flags capture.Flags // one of these takes the value away
	says  string        // the alarm's sentence matches
	link  bool          // the instrument is shown as away
}

// spoil is a fault that spoils every answer until it is over.
func spoil(name string, words ...string) shown {
	return shown{
		name:  name,
		begin: func(r *rig, meter string) { r.fault(name, append(append([]string{meter}, words...), "1000000")...) },
		end:   func(r *rig, meter string) { r.fault(name, append(append([]string{meter}, words...), "1")...) },
	}
}

func (s shown) with(flags capture.Flags, says string) shown {
	s.flags, s.says = flags, says
	return s
}

// away are the flags of a meter that cannot be understood even when it is asked
// who it is: after three attempts its link is given up.
const away = capture.Disconnected

// dumb are the words for a meter of which nothing comes that can be used. Which
// of them it is hangs on whether its first bad answer or the alarm was sooner;
// the flags, later, tell it exactly.
const dumb = "does not answer|gives no usable answer|is disconnected"

// lanes are the faults, one after the other on each of four meters, side by
// side. Mute is a dead instrument; stale is a stray line in front of the answer;
// flood is noise without an end of line.
var lanes = [][]shown{
	{
		spoil("mute").with(capture.TimedOut|away, dumb),
		spoil("late", "1500ms").with(capture.TimedOut|capture.Garbled|away, dumb),
	},
	{
		spoil("cut").with(capture.Garbled|capture.TimedOut|away, dumb),
		func() shown { s := spoil("split"); s.quiet = true; return s }(),
		// The cable is pulled when half of the answer has come.
		{
			name: "disconnect in mid-answer", flags: away, says: dumb, link: true,
			begin: func(r *rig, meter string) {
				r.fault("cut", meter, "1000000")
				r.pass(time.Second) // five polls: half an answer is under way
				r.fault("link down", meter)
			},
			end: func(r *rig, meter string) {
				r.fault("cut", meter, "1")
				r.fault("link up", meter)
			},
		},
	},
	{
		spoil("garble").with(capture.Garbled|away, dumb),
		spoil("echo").with(capture.Garbled|away, dumb),
	},
	{
		spoil("nan").with(capture.NotANumber|capture.TimedOut|away, dumb),
		spoil("stale").with(capture.Garbled|away, dumb),
		spoil("flood").with(capture.Garbled|away, dumb),
	},
}

// Every fault of the simulated instruments, from the wire to the screen: the
// rail shows no number but "No reading", the API says which flag took it, the
// silence is an alarm with a sentence, the other rails read on; afterwards the
// rail reads again by itself, and no wrong value was filed under its name.
func TestWhatFaultsShow(t *testing.T) {
	if raced {
		t.Skip("what is seen of a fault is no race; the links race in drivers and in the other tests of this package")
	}
	t.Parallel()
	r := newRig(t, 5, func(c *configs.Config) {
		for i := range c.Instruments[:len(clips)] {
			c.Instruments[i].Link += "?answer=700ms" // not the model's 1.5 s: what is mute is waited for often
		}
	})
	r.soak()
	since := r.clock.Now()
	t.Run("lanes", func(t *testing.T) {
		for i, lane := range lanes {
			t.Run(clips[i].meter, func(t *testing.T) {
				t.Parallel()
				own := *r
				own.t = t
				for _, f := range lane {
					own.goesThrough(f, clips[i].meter, clips[i].rail)
				}
			})
		}
	})
	r.otherIdentity()
	r.aboveTheRange()
	r.stop()
	r.check(r.read(jobID), since)
}

// goesThrough lets a fault happen and end on one meter, and looks at what the
// person sees.
func (r *rig) goesThrough(f shown, meter, rail string) {
	r.t.Helper()
	before := r.ordinal(volts(meter))
	f.begin(r, meter)
	if f.quiet {
		r.until(f.name+": it reads on", func(live.Snapshot) bool { return r.ordinal(volts(meter)) > before+20 })
		if a, ok := alarm(r.Snapshot(), "silent", rail); ok && a.To == capture.Active {
			r.t.Errorf("%s: raised %q", f.name, a.Say)
		}
		f.end(r, meter)
		return
	}
	r.until(f.name+": silence is an alarm", func(s live.Snapshot) bool {
		a, ok := alarm(s, "silent", rail)
		ch, _ := s.Channel(volts(meter))
		return ok && a.To == capture.Active && ch.Last != nil && !ch.Last.Reading.Good()
	})
	r.looksDead(f, meter, rail)
	f.end(r, meter)
	r.readsAgain(f.name, meter, rail)
}

// why are the words on a rail's page for the flags of its newest reading.
const why = "no answer in time|answer not readable|link gone|meter gave no number|another instrument answered"

// looksDead checks screen, API and alarm of a rail that nobody can read.
func (r *rig) looksDead(f shown, meter, rail string) {
	r.t.Helper()
	// On a loaded computer an answer may be late before it is wrong.
	r.until(f.name+": the API says which", func(live.Snapshot) bool {
		got := r.railOnAPI(rail)
		if got.Volts.Value != nil || got.Volts.Present {
			r.t.Errorf("%s: the API gives %s a value: %+v", f.name, rail, got.Volts)
		}
		flags, err := capture.ParseFlags(got.Volts.Flags)
		return err == nil && flags.Has(f.flags)
	})
	r.alarmSays(f, rail)
	r.until(f.name+": no verdict", func(s live.Snapshot) bool { return outcome(s, "band", rail) == capture.NoData })
	r.untilScreen(f.name, "/", "No reading on .*"+regexp.QuoteMeta(rail))
	r.untilScreen(f.name, "/rail/"+url.PathEscape(rail), regexp.QuoteMeta(rail)+" TP[0-9]+, "+meter+", every 200 ms ("+why+") No reading")
	if in, _ := r.Snapshot().Instrument(meter); f.link && (in.Up || in.Problem == "") {
		r.t.Errorf("%s: %s is shown as up %t, problem %q", f.name, meter, in.Up, in.Problem)
	}
}

// alarmSays holds the sentence of a rail's silence against what is expected.
func (r *rig) alarmSays(f shown, rail string) {
	r.t.Helper()
	a, _ := alarm(r.Snapshot(), "silent", rail)
	if ok, err := regexp.MatchString(" ("+f.says+")", a.Say); !ok || err != nil {
		r.t.Errorf("%s: the alarm says %q (%v)", f.name, a.Say, err)
	}
}

// outcome is the newest verdict of a kind on a rail.
func outcome(s live.Snapshot, kind, rail string) capture.Outcome {
	j, _ := s.Job("")
	for _, one := range j.Rails {
		for _, v := range one.Verdicts {
			if one.Rail.Name == rail && v.Kind == kind {
				return v.Outcome
			}
		}
	}
	return capture.NoData
}

// readsAgain waits until a rail is back by itself, and ends its alarm.
func (r *rig) readsAgain(what, meter, rail string) {
	r.t.Helper()
	r.until(what+": it reads again", func(s live.Snapshot) bool {
		a, ok := alarm(s, "silent", rail)
		return reads(s, meter) && (!ok || a.To != capture.Active)
	})
	if got := r.railOnAPI(rail); got.Volts.Flags != "" && got.Volts.Value != nil {
		r.t.Errorf("%s: afterwards the API says %+v", what, got.Volts)
	}
	if a, ok := alarm(r.Snapshot(), "silent", rail); ok {
		r.act(capture.Act{Verb: capture.ActHeard, Subject: a.Alarm})
	}
}

// otherIdentity puts two meters into each other's place: nothing is filed, and
// both names are shown.
func (r *rig) otherIdentity() {
	r.t.Helper()
	pair := clips[2:4]
	r.fault("swap links", pair[0].meter, pair[1].meter)
	for i, c := range pair {
		r.until("silence on "+c.rail, func(s live.Snapshot) bool {
			a, ok := alarm(s, "silent", c.rail)
			ch, _ := s.Channel(volts(c.meter))
			both := strings.Contains(a.Say, "00123459") && strings.Contains(a.Say, "00123460")
			return ok && a.To == capture.Active && both && ch.Outcomes["mismatch"] > 0
		})
		in, _ := r.Snapshot().Instrument(c.meter)
		for _, serial := range []string{"00123459", "00123460"} {
			if !strings.Contains(in.Problem, serial) {
				r.t.Errorf("other identity: %s: %q does not name %s", c.meter, in.Problem, serial)
			}
		}
		r.looksDead(shown{name: "other identity", flags: capture.Mismatch | away, says: "is another instrument", link: true}, pair[i].meter, c.rail)
	}
	r.fault("swap links", pair[0].meter, pair[1].meter)
	for _, c := range pair {
		r.readsAgain("other identity", c.meter, c.rail)
	}
}

// aboveTheRange asks a meter whose leads are lifted for ohms: an answer without
// a number, and no silence.
func (r *rig) aboveTheRange() {
	r.t.Helper()
	c := clips[3]
	// Off the rail before the leads are lifted: nought would be filed under it.
	_, err := r.Place(r.t.Context(), "", capture.Placement{Channel: volts(c.meter)})
	r.must(err)
	begun := r.ordinal(volts(c.meter)) // what was begun on the rail ends before the leads are lifted
	r.until("what was begun is over", func(live.Snapshot) bool { return r.ordinal(volts(c.meter)) > begun+1 })
	r.must(r.bench.Lift(c.meter))
	ohms := capture.ChannelID(c.meter + "/ohms")
	_, err = r.Place(r.t.Context(), "", capture.Placement{Channel: ohms, Rail: c.rail, Point: c.point})
	r.must(err)
	r.until("open leads", func(s live.Snapshot) bool {
		ch, ok := s.Channel(ohms)
		return ok && ch.Last != nil && ch.Last.Reading.Flags.Has(capture.OverRange)
	})
	// The first open reading may have been begun before the placement, and is
	// then not the rail's.
	r.until("over-range in the API", func(live.Snapshot) bool {
		got := r.railOnAPI(c.rail)
		return got.Ohms.Value == nil && got.Ohms.Flags == "over_range"
	})
	r.untilScreen("over-range", "/", regexp.QuoteMeta(c.rail)+".*Above the range.*No short seen")
}

// onAPI is a rail as /api/v1/rails gives it.
type onAPI struct {
	Rail        struct{ Name string }
	Volts, Ohms struct {
		Value   *float64
		Flags   string
		Present bool
	}
}

func (r *rig) railOnAPI(rail string) onAPI {
	r.t.Helper()
	_, body := r.ask(http.MethodGet, "/api/v1/rails", "")
	var answer struct{ Rails []onAPI }
	r.must(json.Unmarshal([]byte(body), &answer))
	for _, one := range answer.Rails {
		if one.Rail.Name == rail {
			return one
		}
	}
	r.t.Fatalf("%s is not among the rails: %s", rail, body)
	return onAPI{}
}

var markup = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<[^>]*>`)

// screen is a page as it is read aloud.
func (r *rig) screen(path string) string {
	r.t.Helper()
	_, body := r.ask(http.MethodGet, path, "")
	text := strings.Join(strings.Fields(html.UnescapeString(markup.ReplaceAllString(body, " "))), " ")
	return strings.ReplaceAll(text, capture.MinusSign, "-")
}

// untilScreen waits for a page to say what matches.
func (r *rig) untilScreen(what, path, pattern string) {
	r.t.Helper()
	want := regexp.MustCompile(pattern)
	var text string
	said := false
	defer func() {
		if !said {
			r.t.Logf("%s: %s says: %s", what, path, text)
		}
	}()
	r.until(what+" on the screen "+path, func(live.Snapshot) bool {
		text = r.screen(path)
		said = want.MatchString(text)
		return said
	})
}
