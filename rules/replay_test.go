package rules

import (
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// randomLog is a job in which anything may happen at any time.
func randomLog(t *rapid.T) []capture.Record {
	log := opening(nil, five, dsp)
	now := epoch + 10
	rails := []string{five.Name, dsp.Name, ""}
	for range rapid.IntRange(2, 120).Draw(t, "records") {
		now += capture.Instant(rapid.IntRange(1, 400_000).Draw(t, "pause"))
		if now%100_000 == 0 {
			now++
		}
		var item capture.Item
		ch := rapid.SampledFrom([]string{"dmm/volts", "dmm/volts", "dmm2/volts", "dmm/ohms"}).Draw(t, "channel")
		switch rapid.IntRange(0, 30).Draw(t, "what") {
		case 0:
			item = capture.Act{Verb: capture.ActHeard}
		case 1:
			item = capture.Act{Verb: capture.ActReset}
		case 2:
			item = capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: rapid.SampledFrom([]string{"on", "off"}).Draw(t, "output")}
		case 3, 4, 5:
			item = capture.Placement{Channel: capture.ChannelID(ch), Rail: rapid.SampledFrom(rails).Draw(t, "rail"), Hold: capture.Hold(rapid.IntRange(0, 1).Draw(t, "hold"))}
		case 6:
			item = capture.Act{Verb: capture.ActStage, Stage: rapid.SampledFrom(capture.Stages()).Draw(t, "stage")}
		case 7:
			item = capture.Act{Verb: capture.ActMute, Subject: rapid.SampledFrom(rails).Draw(t, "mute"), Value: 5}
		case 8:
			item = capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: rapid.SampledFrom([]string{"", "closed", "458 is there", "459 is there"}).Draw(t, "lost")}
		case 10:
			item = capture.Act{Verb: capture.ActLinkBack, Subject: "dmm"}
		case 9: // the computer slept, and the rules heard the ticks until then
			item = capture.Gap{From: now - 1_000_000, To: now, Reason: "slept", Ticked: true}
		default:
			r := volts(ch, rapid.SampledFrom([]float64{5, 5.01, 4.8, 4.2, 3.3, 1.2, 0.01}).Draw(t, "value"))
			if ch == "dmm/ohms" {
				r.Quantity = capture.Resistance
			}
			r.Flags = rapid.SampledFrom([]capture.Flags{0, 0, 0, 0, 0, capture.TimedOut, capture.OverRange, capture.Mismatch, capture.Disconnected}).Draw(t, "flags")
			item = r
		}
		log = append(log, capture.Record{At: now, Job: "AB-0147", Item: item})
	}
	return log
}

// live runs an engine as a bench does, tick by tick, with its own loop.
func live(e *Engine, log []capture.Record, after, upto capture.Instant) (out []capture.Transition) {
	tick := (after/100_000 + 1) * 100_000
	for _, r := range log {
		for ; tick <= r.At; tick += 100_000 {
			out = append(out, e.Consume(capture.Record{At: tick, Item: capture.Tick{}}).Transitions...)
		}
		out = append(out, e.Consume(r).Transitions...)
	}
	for ; tick <= upto; tick += 100_000 {
		out = append(out, e.Consume(capture.Record{At: tick, Item: capture.Tick{}}).Transitions...)
	}
	return out
}

func walk(log []capture.Record) Records {
	return func(yield func(capture.Record) error) error {
		for _, r := range log {
			if err := yield(r); err != nil {
				return err
			}
		}
		return nil
	}
}

func TestReplayEqualsLive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { replays(t, randomLog(t)) })
}

// replays holds that a log gives the same when it is judged again, whole or
// resumed, and returns what it gives.
func replays(t *rapid.T, log []capture.Record) []capture.Transition {
	end := log[len(log)-1].At + 5_000_000
	want := live(New(""), log, log[0].At, end)
	got, err := Replay(bg, walk(log), end)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Fatalf("%v\nreplay %+v\nlive   %+v", err, got, want)
	}
	// Killed anywhere and resumed, it goes on as if nothing had been.
	cut := rapid.IntRange(1, len(log)-1).Draw(t, "cut")
	e, first, err := Resume(bg, "", walk(log[:cut]), 0)
	if err != nil {
		t.Fatal(err)
	}
	rest := live(e, log[cut:], log[cut-1].At, end)
	if got := append(first, rest...); !reflect.DeepEqual(got, want) {
		t.Fatalf("cut at %d\nresumed %+v\nlive    %+v", cut, got, want)
	}
	return want
}

// TestTransitionsAreSound holds what every reader of transitions relies on.
func TestTransitionsAreSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := randomLog(t)
		out, _ := Replay(bg, walk(log), log[len(log)-1].At+5_000_000)
		state := map[string]capture.AlarmState{}
		alarm := map[string]string{}
		said := map[string]capture.Transition{}
		var last capture.Instant
		for _, tr := range out {
			if tr.From != state[tr.Rule] || tr.At < last || tr.Say == "" || len(tr.Evidence) == 0 || tr.Raised > tr.At {
				t.Fatalf("after %s: %+v", state[tr.Rule], tr)
			}
			if tr.Alarm != capture.AlarmID(tr.Rule, tr.Raised) || tr.From != capture.Normal && tr.Alarm != alarm[tr.Rule] {
				t.Fatalf("alarm %q, was %q", tr.Alarm, alarm[tr.Rule])
			}
			// A step that leads nowhere has something to say: of a mute, or anew.
			if was := said[tr.Rule]; tr.From == tr.To && tr.Say == was.Say && (tr.Muted == "") == (was.Muted == "") {
				t.Fatalf("told twice: %+v", tr)
			}
			said[tr.Rule] = tr
			for _, ev := range tr.Evidence {
				if ev > tr.At {
					t.Fatalf("evidence of the future: %+v", tr)
				}
			}
			state[tr.Rule], alarm[tr.Rule], last = tr.To, tr.Alarm, tr.At
		}
	})
}

// TestReplayHearsTheTicksBeforeASleep: the gap that tells of a sleep reaches
// back over ticks that the live engine heard, and one that raised an alarm.
func TestReplayHearsTheTicksBeforeASleep(t *testing.T) {
	for _, ticked := range []bool{true, false} {
		log := opening(nil, five)
		add := func(sec float64, item capture.Item) {
			log = append(log, capture.Record{At: at(sec) + 13, Item: item})
		}
		add(1, volts("dmm/volts", 5))
		add(2, volts("dmm/volts", 4.85)) // low: an alarm a second later, if it lasts
		add(2.2, volts("dmm/volts", 4.85))
		add(3.5, capture.Gap{From: at(2.5), To: at(3.5), Reason: "slept", Ticked: ticked})
		got, err := Replay(bg, walk(log), 0)
		if err != nil {
			t.Fatal(err)
		}
		want := live(New(""), log, log[0].At, 0)
		if len(want) != 1 {
			t.Fatalf("live: %+v", want)
		}
		if !ticked { // nobody ran: there was no such tick
			want = nil
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("ticked %v: replay %+v, live %+v", ticked, got, want)
		}
	}
}

// TestOneOutlierIsNoLevel: one low reading and then silence is no low rail,
// however long the silence lasts; two in a row are.
func TestOneOutlierIsNoLevel(t *testing.T) {
	for low := 1; low <= 2; low++ {
		log := opening(nil, five)
		add := func(sec float64, v float64) {
			log = append(log, capture.Record{At: at(sec) + 13, Item: volts("dmm/volts", v)})
		}
		add(1, 5)
		for i := range low {
			add(2+0.2*float64(i), 4.85)
		}
		raised := 0
		for _, tr := range live(New(""), log, log[0].At, at(8)) {
			if tr.Kind == "band" && tr.To == capture.Active {
				raised++
			}
		}
		if raised != low-1 {
			t.Errorf("%d low readings raise %d alarms", low, raised)
		}
	}
}
