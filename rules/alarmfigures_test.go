package rules

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// alarmFigures is alarms/figures.json.
type alarmFigures struct {
	States []struct {
		ID                  string
		Process, Alarm, Ack string
	}
	Chatter struct {
		Times  int
		Within float64 `json:"within_s"`
	}
	Deadbands struct {
		Percent map[string]float64 `json:"percent_of_range"`
		None    []string           `json:"no_value_for"`
	} `json:"deadband_start_values"`
	Targets struct {
		Flood struct {
			Alarms int
			Within float64 `json:"within_min"`
		} `json:"flood_above"`
		Chattering int
	} `json:"performance_targets"`
}

func figuresOfAlarms(t *testing.T) (f alarmFigures) {
	t.Helper()
	published(t, "figures.json", &f)
	if len(f.States) != 9 || f.Chatter.Times == 0 || f.Targets.Flood.Alarms == 0 || len(f.Deadbands.Percent) == 0 {
		t.Fatalf("figures are missing: %+v", f)
	}
	return f
}

// What the diagram says of process, alarm and acknowledgement in each state. The
// three beside the six are no states here: what is muted by a person, by its cause
// or by its stage goes on in its own state underneath.
func TestStatesSayWhatTheDiagramSays(t *testing.T) {
	for _, s := range figuresOfAlarms(t).States {
		if s.Process == "" {
			continue
		}
		state := lettered(t, s.ID)
		if state.IsActive() != (s.Process == "abnormal") || state.IsActive() != (s.Alarm == "active") {
			t.Errorf("%s: active %v, the process is %s, the alarm %s", s.ID, state.IsActive(), s.Process, s.Alarm)
		}
		if latched := state == capture.Latched || state == capture.LatchedHeard; latched != (s.Alarm == "latched") {
			t.Errorf("%s: latched %v, the alarm is %s", s.ID, latched, s.Alarm)
		}
		to, moves := next(state, heard, false)
		if moves != (s.Ack == "unacked") {
			t.Errorf("%s: to hear it moves it to %s: %v; it is %s", s.ID, to.Letter(), moves, s.Ack)
		}
	}
}

// An alarm that comes three times or more in every minute is told three times and
// then not, whatever its period: it alone is no flood. One that comes less often
// is told each time.
func TestChatterIsNoFlood(t *testing.T) {
	f := figuresOfAlarms(t)
	if chatterLimit != f.Chatter.Times || chatterSpan.Seconds() != f.Chatter.Within {
		t.Errorf("%d in %s", chatterLimit, chatterSpan)
	}
	span := f.Targets.Flood.Within * 60
	for _, period := range []float64{2, 7, 10, 19, 20, 25, 29, 31, 45, 60} {
		told, all := fallsTold(period, span)
		want := all
		if float64(f.Chatter.Times-1)*period < f.Chatter.Within { // so often within every minute
			want = f.Chatter.Times
		}
		if told != want || want < all && told > f.Targets.Flood.Alarms {
			t.Errorf("every %g s: told %d of %d, want %d", period, told, all, want)
		}
	}
}

// fallsTold lets a rail fall for a second, once a period, and counts the alarms
// that came and of which somebody was told.
func fallsTold(period, span float64) (told, all int) {
	e := New("")
	for _, r := range opening(nil, five) {
		e.Consume(r)
	}
	for k := 1; float64(k)/5 < span; k++ {
		s, v := float64(k)/5, 5.0
		if k%int(5*period) < 5 && s > period {
			v = 2
		}
		for _, tr := range e.Consume(capture.Record{At: at(s), Item: volts("dmm/volts", v)}).Transitions {
			if tr.Kind == "collapse" && tr.To == capture.Active {
				if all++; tr.Muted == "" {
					told++
				}
			}
		}
	}
	return told, all
}

// A chatter that stops is told again when it comes again, and one that stays goes
// on to be told when it has stayed for a minute.
func TestAfterAChatter(t *testing.T) {
	var c chatter
	for i, s := range []float64{0, 25, 50, 75, 100} {
		c.add(at(s))
		if got, want := c.count(at(s)) >= chatterLimit && c.said(), i > 2; got != want {
			t.Errorf("at %g s: muted %v", s, got)
		}
	}
	if c.count(at(100).Add(36*time.Second)) >= chatterLimit {
		t.Error("36 s later it still chatters")
	}
	if c.add(at(300)); c.count(at(300)) != 1 || c.said() != true {
		t.Errorf("after a pause: %d", c.count(at(300)))
	}
	if c.add(at(320)); c.said() {
		t.Error("two after the pause are no chatter that was said")
	}
}

// Deadbands to start with: 1 % of the range of a temperature is the 2 K of ours for
// a sensor up to 200 °C. For volts, amperes and ohms there is none: what we
// chose stands where a person reads of the kind.
func TestDeadbandsToStartWith(t *testing.T) {
	f := figuresOfAlarms(t).Deadbands
	if want := f.Percent["temperature"] / 100 * 200; kind.HotDeadband != want {
		t.Errorf("hot has %g K, published for 200 °C %g K", kind.HotDeadband, want)
	}
	if !strings.Contains(strings.Join(f.None, " "), "voltage") {
		t.Fatalf("%v", f.None)
	}
	for _, k := range kind.Table() {
		if k.Name != "band" {
			continue
		}
		r, _ := k.Implied(five)
		if r.Deadband != five.HalfBand()/5 || r.OnDelay != time.Second || r.OffDelay != time.Second {
			t.Errorf("band: deadband %g V, delays %s and %s", r.Deadband, r.OnDelay, r.OffDelay)
		}
		if said := k.Default(five); !strings.Contains(said, capture.Volt.Text(r.Deadband, 0.001)) || !strings.Contains(said, "for 1 s") {
			t.Errorf("what is said of it: %q", said)
		}
	}
}
