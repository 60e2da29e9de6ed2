package web

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"
	"time"

	"steadyrail/capture"
)

// alarm is an alarm for people.
type alarm struct {
	ID       string
	News     string // "+5 V logic collapsed"
	Headline string // the same for large letters: without a length that no longer grows
	Lasts    string // how long since it was raised, while it is active
	Proof    string // "From 5.011 V to 3.087 V"
	Rail     string
	Link     string
	Kind     string
	Rule     string // its name, and its kind where the name does not say it
	Severity string
	State    string // "not heard", "told 03:19:02, not heard", "heard 03:19:02", "came back, not heard"
	Mark     string
	Tone     string
	Since    string
	Advice   string
	Value    string // "3.087 V against 4.900 V, dmm volts"
	Course   []step // what its latest step does not tell
	Evidence []string
	More     int // further readings that prove it
	Muted    string
	Shelf    string // what a mute of it names
	First    string // it is the first-up of a storm: "First of three alarms within 0.4 s"
	Trip     string // what its trip did: "supply off 83 ms after the reading", "NOT confirmed off"
	Active   bool
	Unheard  bool
	Latched  bool // reset latch is possible
	urgent   bool
	raised   capture.Instant
}

// alarms fills the lists, and picks the alarm that fills the page.
func (v *view) alarms() {
	for _, t := range v.Job.Alarms {
		a := v.alarm(t)
		a.Course = v.course(t)
		v.Alarms = append(v.Alarms, a)
	}
	for _, t := range v.Job.Past {
		v.Past = append(v.Past, v.alarm(t))
	}
	v.firstUp()
	for i := range v.Alarms {
		a := &v.Alarms[i]
		tripped := a.Trip != "" && !a.Active // muted then by the output being off: the trip's own doing, of which nobody has heard
		if !a.Unheard || a.Muted != "" && !tripped || a.Severity == capture.Notice.String() {
			continue
		}
		if a.urgent && a.Active {
			v.Ring = "urgent"
		} else if v.Ring == "" && !a.Active {
			v.Ring = "back"
		}
		if tripped {
			a.State, a.Mark = a.Trip+", not heard", "m-back"
		}
		if v.Shout == nil {
			v.Shout = a
		} else {
			v.Others++
		}
	}
}

func (v *view) alarm(t capture.Transition) alarm {
	a := alarm{
		ID: t.Alarm, Rail: t.Rail, Link: v.railLink(t.Rail), Kind: t.Kind, Rule: ruleWords(t), Shelf: t.Rule, Severity: t.Severity.String(),
		Since: v.when(t.Raised), Advice: sentence(t.Advice), Muted: t.Muted, Active: t.To.IsActive(), urgent: t.Severity == capture.Urgent, raised: t.Raised,
		Unheard: t.To == capture.Active || t.To == capture.Returned || t.To == capture.Latched,
		Latched: t.To == capture.Latched || t.To == capture.LatchedHeard,
	}
	a.News, a.Proof = splitSay(t.Say)
	a.Headline, a.Proof = headline(a.News, t.Rail), glue(a.Proof)
	if t.To == capture.Active || t.To == capture.Heard {
		a.Lasts = lasting(v.snap.Now.Sub(t.Raised))
	}
	a.State, a.Mark, a.Tone = v.alarmState(t)
	a.Value = decided(t)
	a.Trip = v.tripOf(t)
	for i, at := range t.Evidence {
		if i == 6 {
			a.More = len(t.Evidence) - i
			break
		}
		a.Evidence = append(a.Evidence, at.Time().In(v.zone).Format("15:04:05.000"))
	}
	return a
}

// ruleWords names the rule that spoke. A rule that somebody wrote has a name of
// its own, and its kind alone would not say which it was.
func ruleWords(t capture.Transition) string {
	if t.Rule == "" || strings.HasPrefix(t.Rule, t.Kind) {
		return together(cmp.Or(t.Rule, t.Kind))
	}
	return t.Rule + ", " + t.Kind
}

// frozen is how long something had lasted when the rule spoke: right in the
// record, wrong a minute later in the largest letters of a page.
var frozen = regexp.MustCompile(`^(No reading on .+) for [0-9.]+ s$|^(.+ may switch itself off) in about [0-9]+ min$`)

// headline is the news as it stays true, with names and figures that do not
// break at the end of a line.
func headline(news, rail string) string {
	news = frozen.ReplaceAllString(news, "$1$2")
	if rail != "" {
		news = strings.ReplaceAll(news, rail, together(rail))
	}
	return glue(news)
}

// lasting says a length that is still growing: seconds at first, then minutes,
// so that it does not flicker.
func lasting(d time.Duration) string {
	step := time.Second
	if d >= 2*time.Minute {
		step = time.Minute
	}
	return spanText(max(0, d).Truncate(step))
}

func (v *view) alarmState(t capture.Transition) (words, mark, tone string) {
	at := v.clock(t.At)
	if why, ok := capture.UnwatchedIn(t.Say); ok && !t.To.IsActive() && !strings.HasPrefix(t.Muted, "muted") {
		return "not watched since " + at + ": " + why, "m-shelved", "is-silent"
	}
	if t.Muted != "" {
		return v.mutedWords(t), "m-shelved", "is-silent"
	}
	switch t.To {
	case capture.Active:
		if t.From.IsActive() { // anew, or for the first time after a mute
			return "told " + at + ", not heard", "m-alarm", "is-outside"
		}
		return "not heard", "m-alarm", "is-outside"
	case capture.Heard:
		return "heard " + at, "m-heard", "is-outside"
	case capture.Returned, capture.Latched:
		return "came back " + at + ", not heard", "m-back", "is-outside"
	case capture.LatchedHeard:
		return "came back, latched, heard", "m-heard", "is-doubt"
	}
	return "ended " + at, "m-heard", "is-silent"
}

// decided says which number decided, against what. The transition carries no
// resolution, so three digits below the unit are the most that is printed.
func decided(t capture.Transition) string {
	if t.Unit == "" || t.Value == 0 && t.Limit == 0 {
		return ""
	}
	fig := func(x float64) string { return withUnit(capture.Figure(x, 0.001), t.Unit) }
	out := fig(t.Value)
	if t.Limit != 0 {
		out += " against " + fig(t.Limit)
	}
	if t.Channel != "" {
		out += ", " + channelWords(t.Channel)
	}
	return out
}

// Counted says how many proofs there are beyond those listed.
func (a alarm) Counted() string {
	if a.More == 0 {
		return ""
	}
	return fmt.Sprintf("and %d more", a.More)
}

func (v *view) alarmSentence() (say, proof string) {
	if !v.HasJob {
		return "No job is open", "Alarms belong to a job."
	}
	open, unheard, muted := len(v.Alarms), 0, 0
	for _, a := range v.Alarms {
		switch {
		case a.Muted != "":
			muted++
		case a.Unheard:
			unheard++
		}
	}
	switch {
	case open == 0 && len(v.Past) == 0:
		if words := v.unwatched(); words != "" {
			return "No alarm", words
		}
		return "No alarm", "None since the job was opened."
	case open == 0:
		return "No alarm open", capital(count(len(v.Past))) + " ended."
	case open == 1:
		say = together(v.Alarms[0].Rail) + ": one alarm open"
	default:
		say = capital(count(open)) + " alarms open"
	}
	proof = "All heard"
	if unheard > 0 {
		proof = capital(count(unheard)) + " not heard yet"
	}
	switch {
	case muted == open:
		return say, "All muted."
	case muted > 0:
		proof += ", " + count(muted) + " muted"
	}
	return say, proof + "."
}

// acts is what the buttons of an alarm need.
type acts struct {
	ID, Job, Nonce, Back             string
	Unlocked, Unheard, Latched, Main bool
	Mutable                          string   // what its mute is on; empty: it is gone or quiet
	Supplies                         []supply // those whose output may be switched off
}

// ActsOf returns what the buttons of an alarm need.
func (v *view) ActsOf(a alarm) acts {
	out := acts{ID: a.ID, Job: v.Job.Sheet.Job, Nonce: v.Nonce, Back: v.Path, Unlocked: v.Unlocked, Unheard: a.Unheard, Latched: a.Latched}
	if a.Active && a.Muted == "" {
		out.Mutable = a.Shelf
	}
	return out
}

// MainActs is the same for the alarm that fills the page: its first button is
// the one that the space bar presses.
func (v *view) MainActs(a *alarm) acts {
	out := v.ActsOf(*a)
	out.Main, out.Mutable = true, "" // what fills the page is heard first
	for _, in := range v.snap.Instruments {
		s := supply{Name: in.Info.Name}
		for _, o := range outlets(in.Info) {
			if o.Verb == string(capture.ActOutput) {
				s.Outlets = append(s.Outlets, o)
			}
		}
		if len(s.Outlets) > 0 {
			out.Supplies = append(out.Supplies, s)
		}
	}
	return out
}

// supply is an instrument with the outputs that may be switched off.
type supply struct {
	Name    string
	Outlets []outlet // all of it first
}

// Off is what its button says: which supply, where there are several.
func (a acts) Off(s supply) string {
	if len(a.Supplies) > 1 {
		return s.Name + ": output off"
	}
	return "Output off"
}
