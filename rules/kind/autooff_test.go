package kind

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// A meter with fifteen minutes is told of from the twelfth on; what puts it into
// somebody's hands begins the count anew, and what does not, does not.
func TestAutoOff(t *testing.T) {
	const rule = "auto-off +5 V logic"
	seat := Seat{Channel: capture.ChannelInfo{ID: "hand/volts", Quantity: capture.DCVoltage, Every: time.Second}, Since: start, AutoOff: 15 * time.Minute}
	act := func(verb capture.Verb, subject, text string) func(*autoOff) {
		return func(j *autoOff) { j.Act(at(725), &capture.Act{Verb: verb, Subject: subject, Text: text}) }
	}
	reads := func(after float64, f capture.Flags) func(*autoOff) {
		return func(j *autoOff) {
			j.Read(at(720+after), &capture.Reading{Value: 5, Flags: f})
		}
	}
	sits := func(change func(*Seat)) func(*autoOff) {
		return func(j *autoOff) {
			other := seat
			change(&other)
			j.Sit(at(725), other)
		}
	}
	for _, c := range []struct {
		what string
		do   func(*autoOff)
		anew bool
	}{
		{"nothing", func(*autoOff) {}, false},
		{"heard", act(capture.ActHeard, rule, ""), true},
		{"heard by the alarm's identity", act(capture.ActHeard, capture.AlarmID(rule, at(720)), ""), true},
		{"all heard", act(capture.ActHeard, "", ""), true},
		{"another rail's heard", act(capture.ActHeard, "+12 V audio", ""), false},
		{"another rule's heard", act(capture.ActHeard, "band +5 V logic", ""), false},
		{"tapped", act(capture.ActTap, "hand", "+5 V logic"), true},
		{"a tap is wanted", act(capture.ActTap, "hand", capture.TapWanted), false},
		{"another meter is tapped", act(capture.ActTap, "dmm", "+5 V logic"), false},
		{"connected", act(capture.ActLinkBack, "hand", ""), true},
		{"gone", act(capture.ActLinkLost, "hand", ""), true},
		{"placed", sits(func(s *Seat) { s.Since = at(725) }), true},
		{"its channel is described anew", sits(func(s *Seat) { s.Channel.Every = 2 * time.Second }), false},
		{"it reads on", reads(1, 0), false},
		{"it reads again after a silence", reads(30, 0), true},
		{"it does not answer", reads(30, capture.TimedOut), false},
		{"its display is held after a silence", reads(30, capture.Held), true},
		{"no time is stated", sits(func(s *Seat) { s.AutoOff = 0 }), true},
		{"nothing stands there", sits(func(s *Seat) { *s = Seat{} }), true},
	} {
		j := newAutoOff(Case{Rule: capture.Rule{Name: rule, Kind: "auto-off", Rail: five.Name}, Rail: five}).(*autoOff)
		j.Sit(start, seat)
		j.Arm(start, Arming{Armed: true})
		j.Read(at(719.5), &capture.Reading{Value: 5})
		j.Tick(at(719.9))
		if j.Condition() == Present || j.Verdict().Unit != "" {
			t.Errorf("%s: told before its time", c.what)
		}
		j.Tick(at(720))
		if f := j.Finding(); j.Condition() != Present || !strings.HasPrefix(f.Say, "hand may switch itself off in about 3 min") || f.Value != 720 || f.Limit != 900 {
			t.Errorf("%s: not told: %+v", c.what, f)
		}
		c.do(j)
		j.Tick(at(760))
		if anew := j.Condition() != Present; anew != c.anew {
			t.Errorf("%s: the count begins anew %t, want %t", c.what, anew, c.anew)
		}
		j.Tick(at(5000)) // it never went: it still may
		if v := j.Verdict(); j.seat.AutoOff > 0 && j.awake != 0 && j.seated() && v.Say != "hand may switch itself off any moment: press a key on it" {
			t.Errorf("%s: %+v", c.what, v)
		}
	}
}

// Unarmed, what a person hears before it is time says nothing of keys.
func TestAutoOffHeardTooEarly(t *testing.T) {
	j := newAutoOff(Case{Rule: capture.Rule{Name: "auto-off"}, Rail: five}).(*autoOff)
	j.Sit(start, Seat{Channel: capture.ChannelInfo{ID: "hand/volts"}, Since: start, AutoOff: 10 * time.Minute})
	j.Tick(at(479))
	j.Act(at(479), &capture.Act{Verb: capture.ActHeard})
	if j.Tick(at(480)); j.Condition() != Present {
		t.Error("heard counted, and nobody had been asked for a key")
	}
}
