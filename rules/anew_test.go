package rules

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// storied is a judge of no kind in particular: its condition and its story are
// what the test says, its figure is another one each time.
type storied struct {
	kind.Judge
	story string
	asked int
}

func (s *storied) Condition() kind.Condition { return kind.Present }
func (s *storied) Story() string             { return s.story }
func (s *storied) Finding() kind.Finding {
	s.asked++
	return kind.Finding{Say: fmt.Sprintf("it is %q, for the %d. time", s.story, s.asked), Evidence: []capture.Instant{epoch + 6}}
}

// turning returns an engine whose one rule is judged by a storied judge.
func turning() (*Engine, *storied) {
	e := New("")
	for _, r := range opening([]capture.Rule{{Name: "any", Kind: "band", Rail: five.Name, Latch: true}}, five) {
		e.Consume(r)
	}
	s := &storied{Judge: e.watchers[0].judge}
	e.watchers[0].judge = s
	return e, s
}

// TestTheStoryTurns: an active alarm is told anew when its judge has another
// story, whatever kind it is of, once for each, and not for a new figure.
func TestTheStoryTurns(t *testing.T) {
	for _, c := range []struct {
		name, stories string // one letter for each tick; h: heard, -: none
		want          string // the letters of the state after each transition
		told          int
	}{
		{"it varies", "-----", "B", 1},
		{"it turns", "--aaaa", "BB", 2},
		{"it turns, heard", "--h-aaa", "BCB", 2},
		{"it turns, heard, and is heard again", "-haahaa", "BCBC", 2},
		{"it had that story from the start", "aaaa", "B", 1},
		{"it turns and is forgotten", "a-a-a", "B", 1},
		{"it turns twice", "-abb", "BBB", 3},
		{"it turns back", "abab", "BBBB", 4},
		{"it flaps", "abababababab", "BBBB", 4},
		{"it flaps, heard each time", "ahbhahbhahbh", "BCBCBCBC", 4},
	} {
		e, s := turning()
		got, told := "", 0
		for i, r := range c.stories {
			rec := capture.Record{At: at(1 + float64(i)/10), Item: capture.Tick{}}
			switch r {
			case 'h':
				rec.Item = capture.Act{Verb: capture.ActHeard}
			case '-':
				s.story = ""
			default:
				s.story = string(r)
			}
			for _, tr := range e.Consume(rec).Transitions {
				got += tr.To.Letter()
				if tr.To == capture.Active && tr.Muted == "" {
					told++
				}
				if tr.To == capture.Active && !strings.Contains(tr.Say, fmt.Sprintf("%q", s.story)) {
					t.Errorf("%s: at %s it says %s", c.name, tr.At, tr.Say)
				}
			}
		}
		if got != c.want || told != c.told {
			t.Errorf("%s: states %s, told %d times; want %s, %d times", c.name, got, told, c.want, c.told)
		}
	}
}

// TestAFlappingStoryIsToldAsItStands: what was told too often waits its minute,
// and then it is the newest story that is told.
func TestAFlappingStoryIsToldAsItStands(t *testing.T) {
	e, s := turning()
	var last capture.Transition
	n := 0
	for tick := range 700 {
		if s.story = "z"; tick < 100 {
			s.story = string(rune('a' + tick%2))
		}
		for _, tr := range e.Consume(capture.Record{At: at(1 + float64(tick)/10), Item: capture.Tick{}}).Transitions {
			last, n = tr, n+1
		}
	}
	if n != 1+anewLimit+1 || !strings.Contains(last.Say, `"z"`) || last.At.Sub(at(1)) < chatterSpan {
		t.Errorf("%d transitions, the last %+v", n, last)
	}
}

// TestHowOftenAStoryIsTold holds for any run of stories: never the same one
// twice running, no more than the limit within any minute, and the alarm that
// stands has been told as it is, or was told too often to be told yet.
func TestHowOftenAStoryIsTold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e, s := turning()
		told, now := []capture.Transition(nil), at(1)
		was := "?"
		for range rapid.IntRange(1, 60).Draw(t, "ticks") {
			now = now.Add(capture.TickGrid * time.Duration(rapid.SampledFrom([]int{1, 3, 50}).Draw(t, "ticks between")))
			s.story = rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, "story")
			for _, tr := range e.Consume(capture.Record{At: now, Item: capture.Tick{}}).Transitions {
				if tr.From.IsActive() && (s.story == "" || s.story == was) {
					t.Fatalf("told for nothing: %+v", tr)
				}
				told, was = append(told, tr), s.story
			}
		}
		recent := 0
		for i, tr := range told[1:] {
			if i >= anewLimit && tr.At.Sub(told[1+i-anewLimit].At) < chatterSpan {
				t.Fatalf("told anew too often: %+v", told)
			}
			if now.Sub(tr.At) < chatterSpan {
				recent++
			}
		}
		if s.story != "" && s.story != was && recent < anewLimit {
			t.Fatalf("it is %q and was told as %q", s.story, was)
		}
	})
}

// TestToldAnewInTheDossier: the story of an alarm that was told anew is not
// heard until somebody heard that.
func TestToldAnewInTheDossier(t *testing.T) {
	var s capture.AlarmStory
	for _, tr := range []capture.Transition{
		{At: 1, From: capture.Normal, To: capture.Active}, {At: 2, From: capture.Active, To: capture.Heard}, {At: 3, From: capture.Heard, To: capture.Active},
	} {
		tell(&s, tr)
	}
	if s.Heard != 0 || s.Cleared != 0 || !s.Standing() {
		t.Errorf("told anew: %+v", s)
	}
	tell(&s, capture.Transition{At: 4, From: capture.Active, To: capture.Heard})
	if s.Heard != 4 {
		t.Errorf("heard %s", s.Heard)
	}
}

// TestResumeBetweenTwoTellings: a daemon that was killed after the first notice
// gives the second one, and the same one.
func TestResumeBetweenTwoTellings(t *testing.T) {
	log := opening(nil, five)
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Item: item})
	}
	none := func(f capture.Flags) capture.Reading { r := volts("dmm/volts", 0); r.Flags = f; return r }
	add(1, volts("dmm/volts", 5))
	add(1.1, capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: "closed"})
	add(1.2, none(capture.Disconnected))
	add(6, capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: "458 is there, it was 457 before"})
	add(6.1, none(capture.Mismatch))
	want := live(New(""), log, log[0].At, at(8))
	if len(want) != 2 || want[1].From != capture.Active || want[1].To != capture.Active || !strings.Contains(want[1].Say, "458 is there, it was 457 before") {
		t.Fatalf("live %+v", want)
	}
	for cut := len(log) - 2; cut < len(log); cut++ {
		e, first, err := Resume(bg, "", walk(log[:cut]), 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := append(first, live(e, log[cut:], log[cut-1].At, at(8))...); !reflect.DeepEqual(got, want) {
			t.Errorf("cut at %d\ngot  %+v\nwant %+v", cut, got, want)
		}
	}
}
