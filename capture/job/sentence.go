package job

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// Typed is the verb of the entry for a reading that was entered by hand. It is
// not the verb of any act in the record: the reading itself stands there.
const Typed capture.Verb = "typed"

// Corrected is the verb of the entry for a placement that mends an earlier
// one. It is not the verb of any act in the record either.
const Corrected capture.Verb = "corrected"

// Entry says an act in one sentence, in the words of the bench. What depends on
// the acts before (back to a stage, how long a soak lasted) only [Book] can say.
func Entry(a capture.Act) string {
	if say, ok := sentences[a.Verb]; ok {
		return say(a)
	}
	return finish(capital(strings.TrimSpace(string(a.Verb)+" "+a.Subject)), a.Text)
}

var sentences = map[capture.Verb]func(capture.Act) string{
	capture.ActOpen:    func(a capture.Act) string { return finish("Job opened"+by(a.By), a.Text) },
	capture.ActClose:   func(a capture.Act) string { return finish("Job closed"+by(a.By), a.Text) },
	capture.ActNote:    func(a capture.Act) string { return finish(about(a.Subject)+a.Text, "") },
	capture.ActStage:   func(a capture.Act) string { return finish(capital(string(a.Stage))+" begun", a.Text) },
	capture.ActSoak:    soak,
	capture.ActNull:    null,
	capture.ActAmbient: func(a capture.Act) string { return finish("The room has "+figure(a.Value)+" °C", a.Text) },
	capture.ActHeard:   func(a capture.Act) string { return finish("Alarm heard"+named(alarmName(a.Subject)), a.Text) },
	capture.ActReset:   func(a capture.Act) string { return finish("Latch reset"+named(alarmName(a.Subject)), a.Text) },
	capture.ActMute: func(a capture.Act) string {
		if a.Value == 0 {
			return finish("Mute ended"+named(alarmName(a.Subject)), a.Text)
		}
		return finish("Muted"+lasting(a.Value)+named(alarmName(a.Subject)), a.Text)
	},
	capture.ActOutput: output,
	capture.ActInput:  func(a capture.Act) string { return finish("Input of "+subject(a, "the load")+" switched "+a.Text, "") },
	capture.ActLimits: func(a capture.Act) string { return finish("Limits of "+subject(a, "the supply")+" set", a.Text) },
	capture.ActReadBack: func(a capture.Act) string {
		if capture.FoundOff(a.Text) {
			return finish(capital(capture.WhyOff(subject(a, "the supply"), a.Text)), a.Text)
		}
		return finish("Protection of "+subject(a, "the supply")+" read back again", a.Text)
	},
	capture.ActElsewhere: func(a capture.Act) string {
		return finish("Limits of "+subject(a, "the supply")+" set in "+a.By+", so that what this job programmed is in doubt until it reads back", a.Text)
	},
	capture.ActInject: func(a capture.Act) string { return finish("Injection through "+subject(a, "the supply"), a.Text) },
	capture.ActVouch: func(a capture.Act) string {
		return finish("Rating set aside"+by(a.By)+" for "+subject(a, "an instrument"), a.Text)
	},
	capture.ActTurn:     turn,
	capture.ActMark:     mark,
	capture.ActRegimen:  regimen,
	capture.ActSoakStep: soakStep,
	capture.ActTrimmer:  trimmer,
	capture.ActLift:     func(a capture.Act) string { return finish(capital(subject(a, "a part"))+" lifted", a.Text) },
	capture.ActPutBack:  func(a capture.Act) string { return finish(capital(subject(a, "a part"))+" put back", a.Text) },
	capture.ActFinding:  func(a capture.Act) string { return finish(about(a.Subject)+a.Text, "") },
	capture.ActLinkLost: func(a capture.Act) string { return finish("Link to "+subject(a, "an instrument")+" lost", a.Text) },
	capture.ActTap:      tap,
	capture.ActTake:     take,
	capture.ActJudge:    judgedStandIn,
	capture.ActWalk:     walked,
	capture.ActLinkBack: func(a capture.Act) string { return finish("Link to "+subject(a, "an instrument")+" back", a.Text) },
	capture.ActPicture:  enclosed, capture.ActSound: enclosed, capture.ActPart: fitted, capture.ActIndication: indication, capture.ActErase: erased,
	capture.ActTried: func(a capture.Act) string { return finish("Tried: "+a.Text, "") },
	capture.ActBoard: func(a capture.Act) string { return finish("Board sheet "+subject(a, "without a name")+" taken", "") },
	capture.ActAnew:  func(a capture.Act) string { return finish("Isolated anew", a.Text) },

	capture.ActHandover:   func(a capture.Act) string { return finish("Page for a phone "+a.Text+by(a.By), "") },
	capture.ActCaution:    func(a capture.Act) string { return finish("Caution read: "+a.Subject+by(a.By), "") },
	capture.ActPolarity:   func(a capture.Act) string { return finish(capital(subject(a, "the meter"))+" measures "+a.Text, "") },
	capture.ActDischarge:  discharge,
	capture.ActProve:      proveMeter,
	capture.ActDischarged: func(a capture.Act) string { return finish(capital(a.Text), "") },
}

func tap(a capture.Act) string {
	who := subject(a, "a meter")
	if a.Text == capture.TapWanted {
		return "Nobody can say which meter answers as " + who + ": its readings belong to no rail until a rail is touched with it."
	}
	if a.Text == "" {
		return capital(who) + " confirmed: its probes were put together, and its reading followed."
	}
	return capital(who) + " confirmed: it was put on " + a.Text + ", and its reading followed."
}

func take(a capture.Act) string {
	return finish(fmt.Sprintf("Taken with %s on %s", subject(a, "a channel"), a.Text), "")
}

func walked(a capture.Act) string {
	if a.Text == capture.WalkBegin || strings.HasPrefix(a.Text, capture.WalkEnd) {
		return finish("Walk with "+subject(a, "a meter")+" "+a.Text, "")
	}
	return finish("Walk: "+subject(a, "a rail")+" left out", a.Text)
}

func soak(a capture.Act) string {
	switch {
	case a.Text != "start" && a.By == capture.ByPlan:
		return finish("Soak ended by its plan", a.Subject)
	case a.Text != "start":
		return "Soak stopped."
	case a.Value > 0:
		return "Soak started, " + Span(seconds(a.Value)) + " planned."
	}
	return "Soak started, open end."
}

func output(a capture.Act) string {
	who := "Output of " + subject(a, "the supply")
	switch a.Text {
	case capture.SwitchingOff:
		if a.By == capture.ByTrip {
			return who + " is being switched off by the trip."
		}
		return who + " is being switched off."
	case capture.NotConfirmed:
		if a.By == capture.ByTrip {
			return who + ": the trip is NOT confirmed; switch it off by hand."
		}
		return who + ": nothing confirmed that it is off."
	}
	if a.Tripped() {
		return fmt.Sprintf("%s switched off by the trip: read back %s after the reading that raised the alarm.", who, capture.Second.Text(a.Value, 0.001))
	}
	return finish(who+" switched "+a.Text, "")
}

func null(a capture.Act) string {
	return finish("Leads of "+subject(a, "all meters")+" nulled, "+figure(a.Value)+" Ω", a.Text)
}

func turn(a capture.Act) string {
	way := "up"
	if a.Value < 0 {
		way = "down"
	}
	unit := "turns"
	if math.Abs(a.Value) <= 1 {
		unit = "turn"
	}
	return finish("Trimmer of "+subject(a, "the stand-in")+" turned "+way+" "+figure(math.Abs(a.Value))+" "+unit, a.Text)
}

// typed says a reading that was entered by hand.
func typed(rail string, p capture.Placement, r capture.Reading) string {
	how := "Typed"
	if r.Flags.Has(capture.ByEye) {
		how = "Read by eye"
		if meter, _ := r.Channel.ByEyeMeter(); meter != "" {
			how += " from " + meter
		}
	}
	what := rail
	if what == "" {
		what = p.Point
	}
	value := "no value (" + r.Flags.Outcome() + ")"
	if r.Flags.Has(capture.OverRange) {
		value = "over range"
	}
	if r.HasValue() {
		value = r.Quantity.Unit().Text(r.Value, r.Resolution)
	}
	return finish(how+named(strings.TrimSpace(what+" "+value)), "")
}

// corrected says a placement that mends another.
func corrected(old, mended capture.Placement) string {
	// Of what was read by eye one value stands on a placement: it is the value
	// that was filed wrong, and not the probe that is somewhere else.
	if meter, ok := mended.Channel.ByEyeMeter(); ok {
		what := "the value read by eye"
		if meter != "" {
			what += " from " + meter
		}
		return finish(fmt.Sprintf("Corrected: %s belongs to %s, not to %s", what, where(mended), where(old)), mended.Why)
	}
	return finish(fmt.Sprintf("Corrected: %s was on %s, not on %s", mended.Channel, where(mended), where(old)), mended.Why)
}

func where(p capture.Placement) string {
	switch {
	case p.Rail != "":
		return p.Rail
	case p.Point != "":
		return p.Point
	}
	return "nothing"
}

// finish ends a sentence, with what was added to it behind a colon.
func finish(head, added string) string {
	head, added = strings.TrimSpace(head), strings.TrimSpace(added)
	if added != "" {
		head += ": " + added
	}
	if head == "" || strings.ContainsAny(head[len(head)-1:], ".?!") {
		return head
	}
	return head + "."
}

func by(name string) string {
	if name == "" {
		return ""
	}
	return " by " + name
}

func named(what string) string {
	if what == "" {
		return ""
	}
	return ": " + what
}

func about(subject string) string {
	if subject == "" {
		return ""
	}
	return subject + ": "
}

func subject(a capture.Act, otherwise string) string {
	if a.Subject == "" {
		return otherwise
	}
	return a.Subject
}

func lasting(s float64) string {
	if s <= 0 {
		return ""
	}
	return " for " + Span(seconds(s))
}

// alarmName cuts the instant off an alarm's identity (see [capture.AlarmID]).
func alarmName(id string) string {
	name, at := cutLast(id, "@")
	if at == "" || strings.Trim(at, "0123456789") != "" {
		return id
	}
	return name
}

func cutLast(s, sep string) (before, after string) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, ""
	}
	return s[:i], s[i+len(sep):]
}

// capital sets the first letter in capitals when it is a plain one.
func capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// figure prints a value of which no resolution is known, with three digits at
// most.
func figure(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'g', 3, 64), "-", "\u2212", 1)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// Span says a length of time with its two largest parts: "6 h 12 min",
// "45 min", "0.4 s".
func Span(d time.Duration) string {
	switch {
	case d < 10*time.Second:
		return strconv.FormatFloat(d.Round(100*time.Millisecond).Seconds(), 'f', -1, 64) + " s"
	case d.Round(time.Second) < time.Minute:
		return two(d.Round(time.Second), time.Second, "s", 0, "")
	case d.Round(time.Second) < 10*time.Minute:
		return two(d.Round(time.Second), time.Minute, "min", time.Second, "s")
	}
	d = d.Round(time.Minute)
	if d < time.Hour {
		return two(d, time.Minute, "min", 0, "")
	}
	return two(d, time.Hour, "h", time.Minute, "min")
}

func two(d, large time.Duration, largeName string, small time.Duration, smallName string) string {
	out := fmt.Sprintf("%d %s", d/large, largeName)
	if small > 0 && d%large != 0 {
		out += fmt.Sprintf(" %d %s", d%large/small, smallName)
	}
	return out
}
