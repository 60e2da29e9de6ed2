package job

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"steadyrail/capture"
)

// Errors that callers decide by.
var (
	// ErrBadAct is wrapped when an act says too little, or nonsense.
	ErrBadAct = errors.New("this cannot be recorded")
	// ErrNeedsReason is wrapped when a stage is skipped or gone back to and
	// nothing says why.
	ErrNeedsReason = errors.New("a reason is needed")
	// ErrNotNow is wrapped when an act does not fit what the job is at.
	ErrNotNow = errors.New("not now")
)

const (
	// longestText bounds what one act may say, in bytes.
	longestText = 20_000
	// longestSpan bounds a planned length, in seconds: no bench soaks for a
	// year, and what is much longer does not fit a duration.
	longestSpan = 366 * 24 * 3600
)

// CheckStage reports whether a job may go from one stage to another. The next
// stage in the usual order is free; skipping stages and going back need a
// reason, which goes into the record. The error wraps [ErrBadAct],
// [ErrNeedsReason] or [ErrNotNow].
func CheckStage(from, to capture.Stage, reason string) error {
	order := capture.Stages()
	if !to.Known() {
		return fmt.Errorf("%w: there is no stage %q: use one of %s", ErrBadAct, to, stageNames())
	}
	if from == to {
		return fmt.Errorf("%w: the job is in stage %s already", ErrNotNow, to)
	}
	if strings.TrimSpace(reason) != "" {
		return nil
	}
	a, b := slices.Index(order, from), slices.Index(order, to) // a is -1 before the first
	switch {
	case b < a:
		return fmt.Errorf("%w to go back from %s to %s: say what happened", ErrNeedsReason, from, to)
	case b > a+1:
		return fmt.Errorf("%w to skip %s: say why", ErrNeedsReason, list(order[a+1:b]))
	}
	return nil
}

func stageNames() string { return list(capture.Stages()) }

func list(stages []capture.Stage) string {
	var names []string
	for _, s := range stages {
		names = append(names, string(s))
	}
	return strings.Join(names, ", ")
}

// CheckAct reports whether an act says what its verb needs. The error wraps
// [ErrBadAct].
func CheckAct(a capture.Act) error {
	for what, text := range map[string]string{"text": a.Text, "subject": a.Subject, "name": a.By, "stage": string(a.Stage)} {
		if !utf8.ValidString(text) {
			return bad("its %s is not UTF-8", what)
		}
		if len(text) > longestText {
			return bad("its %s has %d bytes, %d are the most", what, len(text), longestText)
		}
	}
	if math.IsNaN(a.Value) || math.IsInf(a.Value, 0) {
		return bad("its value is not a number")
	}
	if a.Stage != "" && !a.Stage.Known() {
		return bad("there is no stage %q: use one of %s", a.Stage, stageNames())
	}
	need, ok := needs[a.Verb]
	if !ok {
		return bad("there is no act %q", a.Verb)
	}
	return need(a)
}

func bad(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrBadAct, fmt.Sprintf(format, args...))
}

// needs tells what each verb needs.
var needs = map[capture.Verb]func(capture.Act) error{
	capture.ActOpen:     nothing,
	capture.ActClose:    nothing,
	capture.ActNote:     text("write something"),
	capture.ActFinding:  text("say what was found"),
	capture.ActStage:    needStage,
	capture.ActSoak:     needSoak,
	capture.ActNull:     atLeastZero("the lead resistance"),
	capture.ActAmbient:  aRoom,
	capture.ActHeard:    aSubject("the alarm"),
	capture.ActReset:    aSubject("the alarm"),
	capture.ActMute:     aLength("the length"),
	capture.ActOutput:   needSwitch("the supply"),
	capture.ActInput:    needSwitch("the load"),
	capture.ActLimits:   text("say the limits, such as volts 24, amperes 0.3"),
	capture.ActTurn:     needTurn,
	capture.ActMark:     needMark,
	capture.ActRegimen:  needRegimen,
	capture.ActSoakStep: needSoakStep,
	capture.ActTrimmer:  needTrimmer,
	capture.ActLift:     aSubject("the part"),
	capture.ActPutBack:  aSubject("the part"),
	capture.ActLinkLost: aSubject("the instrument"),
	capture.ActLinkBack: aSubject("the instrument"),
	capture.ActTap:      aSubject("the meter"),
	capture.ActTake:     needTake,
	capture.ActPicture:  needEnclosure, capture.ActSound: needEnclosure, capture.ActPart: needPart, capture.ActErase: needHash,
	capture.ActIndication: text("write what the set says: blink codes, error numbers"),
	capture.ActVouch:      needVouch,
	capture.ActTried:      text("say what was tried and what came of it, such as source +5 V logic ok"),
	capture.ActBoard:      needBoard,
	capture.ActAnew:       text("say what is another now, such as PS2 replaced"),
	capture.ActJudge:      needStandIn,

	capture.ActHandover:   text("say what became of it, such as open for 10 min"),
	capture.ActCaution:    needCaution,
	capture.ActPolarity:   needPolarity,
	capture.ActDischarge:  needDischarge,
	capture.ActProve:      needProof,
	capture.ActDischarged: text("say what was measured"),
}

func nothing(capture.Act) error { return nil }

func text(hint string) func(capture.Act) error {
	return func(a capture.Act) error {
		if strings.TrimSpace(a.Text) == "" {
			return bad("the %s is empty: %s", a.Verb, hint)
		}
		return nil
	}
}

func aSubject(what string) func(capture.Act) error {
	return func(a capture.Act) error {
		if strings.TrimSpace(a.Subject) == "" {
			return bad("%s: name %s", a.Verb, what)
		}
		return nil
	}
}

func atLeastZero(what string) func(capture.Act) error {
	return func(a capture.Act) error {
		if a.Value < 0 {
			return bad("%s: %s cannot be negative", a.Verb, what)
		}
		return nil
	}
}

// aRoom refuses what no room with a person at the bench has.
func aRoom(a capture.Act) error {
	if a.Value < -20 || a.Value > 60 {
		return bad("%s: %g °C is no room to work in: type what a thermometer beside the meters shows, in °C", a.Verb, a.Value)
	}
	return nil
}

func aLength(what string) func(capture.Act) error {
	return func(a capture.Act) error {
		if a.Value > longestSpan {
			return bad("%s: %s is in seconds, and longer than a year", a.Verb, what)
		}
		return atLeastZero(what)(a)
	}
}

func needStage(a capture.Act) error {
	if a.Stage == "" {
		return bad("name one of %s", stageNames())
	}
	return nil
}

func needSoak(a capture.Act) error {
	if a.Text != "start" && a.Text != "stop" {
		return bad("say start or stop, not %q", a.Text)
	}
	return aLength("the planned length")(a)
}

func needTake(a capture.Act) error {
	if strings.TrimSpace(a.Subject) == "" || strings.TrimSpace(a.Text) == "" {
		return bad("say the channel and the rail, such as dmm/ohms on +5 V logic")
	}
	return nil
}

func needSwitch(what string) func(capture.Act) error {
	return func(a capture.Act) error {
		if a.Text != "on" && a.Text != "off" {
			return bad("%s: say on or off, not %q", a.Verb, a.Text)
		}
		return aSubject(what)(a)
	}
}

func needTurn(a capture.Act) error {
	if a.Value == 0 {
		return bad("say how far, in turns, up positive")
	}
	return nil
}

// Check reports whether an act may be recorded now: what [CheckAct] and
// [CheckStage] say, and whether it fits what the job is at. Notes and findings
// are always welcome, after the job was closed too. The error wraps [ErrBadAct],
// [ErrNeedsReason] or [ErrNotNow].
func (b *Book) Check(a capture.Act) error {
	if err := CheckAct(a); err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	soaking := len(b.soaks) > 0 && b.soaks[len(b.soaks)-1].To == 0
	switch {
	case a.Verb == capture.ActOpen && b.opened != 0 && b.closed == 0:
		return notNow("the job is open already")
	case b.closed != 0 && needsOpen(a.Verb):
		return notNow("the job is closed: open it again first")
	case a.Verb == capture.ActStage:
		return CheckStage(b.stage(), a.Stage, a.Text)
	case a.Verb == capture.ActSoak && a.Text == "start" && soaking:
		return notNow("a soak is running: stop it first")
	case a.Verb == capture.ActSoak && a.Text == "stop" && !soaking:
		return notNow("no soak is running")
	}
	return nil
}

// needsOpen lists the acts that a closed job takes no more.
func needsOpen(v capture.Verb) bool {
	switch v {
	case capture.ActStage, capture.ActSoak, capture.ActTurn, capture.ActLift, capture.ActTried, capture.ActBoard, capture.ActAnew, capture.ActPutBack, capture.ActNull, capture.ActClose:
		return true
	}
	return false
}

func notNow(why string) error { return fmt.Errorf("%w: %s", ErrNotNow, why) }
