package walk

import (
	"strings"

	"steadyrail/capture"
)

// View is a walk for people.
type View struct {
	Job      string            `json:"job"`
	Active   bool              `json:"active"`
	Rail     string            `json:"rail,omitempty"`  // "+5 V logic, leads reversed"
	Point    string            `json:"point,omitempty"` // test point
	In       string            `json:"in,omitempty"`    // "volts" or "ohms"
	Word     string            `json:"word"`            // lift, touch, hold, got it, dial, no reading, done
	Note     string            `json:"note,omitempty"`  // what is odd, or what to do
	Again    string            `json:"again,omitempty"` // why a rail is asked for in volts once more; Note has it too
	Key      string            `json:"key,omitempty"`   // what a short press does now
	Reads    string            `json:"reads,omitempty"` // what the meter shows
	Last     string            `json:"last,omitempty"`  // what was filed last
	Done     int               `json:"done"`            // steps that are through
	Of       int               `json:"of"`              // steps altogether
	Voice    Voice             `json:"voice"`
	Rows     []Row             `json:"rows"`
	Cautions []string          `json:"cautions,omitempty"`
	Meter    capture.ChannelID `json:"meter,omitempty"` // channel that is asked now
	Leads    string            `json:"leads,omitempty"` // a sentence: what of them is in the figures in ohms
}

// Row is a rail of the table. Figures that are not there have no text.
type Row struct {
	Rail     string `json:"rail"`
	Volts    Figure `json:"volts"`
	Ohms     Figure `json:"ohms"`
	Reversed Figure `json:"reversed"`
	Verdict  string `json:"verdict,omitempty"` // of the rules, filled in by the application
}

// View tells where the walk stands.
func (m *Machine) View() View {
	v := View{Job: m.setup.Job, Active: m.state != over, Word: m.word(), Note: m.note, Key: m.key(), Voice: m.voice}
	v.Done, v.Of = m.count()
	v.Leads = m.leads()
	for _, r := range m.setup.Rails {
		v.Rows = append(v.Rows, Row{Rail: r.Name,
			Volts:    m.figures[Step{r.Name, capture.DCVoltage, false}],
			Ohms:     m.figures[Step{r.Name, capture.Resistance, false}],
			Reversed: m.figures[Step{r.Name, capture.Resistance, true}]})
	}
	if m.hasLast {
		v.Last = m.last.Said() + " " + m.figures[m.last].Text
	}
	if m.state >= done {
		return v
	}
	v.Again = m.lapsed
	v.Rail, v.Point, v.In, v.Meter = m.step.Said(), m.rail().Point, m.step.In(), m.channel()
	if v.Note == "" {
		v.Note = m.hint()
	}
	if v.Again != "" && (m.state == lifting || m.state == touching) {
		v.Note = strings.TrimSuffix(v.Again+"; "+v.Note, "; ")
	}
	if m.reading.HasValue() && m.reading.Channel != "" {
		v.Reads = m.reading.Quantity.Unit().Text(shown(m.less(m.reading)), m.reading.Resolution)
	}
	return v
}

// shown is what a reading is shown as. In a range far too wide the digits of a
// resistance lie to both sides of nothing; below it by more it is a voltage.
func shown(r capture.Reading) float64 {
	if r.Quantity == capture.Resistance && r.Value < 0 && r.Value >= -float64(3*r.Resolution) {
		return 0
	}
	return r.Value
}

// In says what the meter measures: "volts" or "ohms".
func (s Step) In() string {
	if s.Quantity == capture.Resistance {
		return "ohms"
	}
	return "volts"
}

// word is the state in one word.
func (m *Machine) word() string {
	switch {
	case m.state >= done:
		return "done"
	case m.gone:
		return "no reading"
	case m.refused:
		return "dial"
	case m.state >= holding && m.state <= assuring:
		return "hold"
	case m.hasLast && m.now.Sub(m.lastAt) < GotFor:
		return "got it"
	case m.state == touching:
		return "touch"
	}
	return "lift"
}

// hint says what to do where the word alone does not.
func (m *Machine) hint() string {
	switch {
	case m.refused:
		return "set the meter to " + m.step.In()
	case m.held:
		return "the display is on hold, or its battery is low"
	case m.state == touching && m.step.Quantity == capture.DCVoltage:
		return "a dead rail is not seen: press when you are on it"
	case m.state == touching:
		return "an open rail is not seen: press when you are on it"
	}
	return ""
}

// key is what a short press does now.
func (m *Machine) key() string {
	switch {
	case m.state == over || m.gone || m.refused:
		return ""
	case m.hasLast && (m.state == lifting || m.state == done) && m.figures[m.last].AtLeast:
		return "wait for " + m.last.Said()
	case m.hasLast && (m.state == lifting || m.state == done):
		return "take " + m.last.Said() + " again"
	case m.state == lifting || m.state == done:
		return ""
	case m.state == touching:
		return "I am on it"
	case m.charge != (charging{}):
		return "wait for it"
	case m.state == holding && m.note != "" && m.settling.n > 0:
		return "file it as it is"
	}
	return "take it again"
}

// Voice is what is to be heard. Each number goes up with something new, so that
// whoever looks twice hears it once.
type Voice struct {
	Sounds int    `json:"sounds"`
	Sound  string `json:"sound,omitempty"` // filed, odd or done
	Says   int    `json:"says"`
	Say    string `json:"say,omitempty"` // "plus 5 volts logic"
}

func (v *Voice) sound(s string) { v.Sounds, v.Sound = v.Sounds+1, s }

func (v *Voice) ask(s Step, again bool) {
	what := Spoken(s.Rail)
	switch {
	case s.Reversed:
		what += ", leads reversed"
	case again:
		what += ", volts again"
	}
	v.speak(what)
}

// filed is followed by the next rail at once: the two are said as one.
func (v *Voice) filed(sound, text string) {
	v.sound(sound)
	v.speak(Spoken(text) + ". ")
}

func (v *Voice) finish() {
	v.sound("done")
	v.speak("The walk is done.")
}

// speak says something, behind a figure that was not told yet.
func (v *Voice) speak(text string) {
	if strings.HasSuffix(v.Say, ". ") {
		text = v.Say + text
	}
	v.Says, v.Say = v.Says+1, text
}

var spoken = strings.NewReplacer("+", "plus ", "-", "minus ", "\u2212", "minus ", "\u00a0", " ",
	"mΩ", "milliohm", "kΩ", "kiloohm", "MΩ", "megaohm", "GΩ", "gigaohm", "Ω", "ohm")

// spokenUnits stand as words of their own.
var spokenUnits = map[string]string{"V": "volts", "mV": "millivolts", "µV": "microvolts", "kV": "kilovolts"}

// Spoken writes a rail or a figure as it is said: "plus 5 volts logic".
func Spoken(text string) string {
	words := strings.Fields(spoken.Replace(text))
	for i, w := range words {
		if s, ok := spokenUnits[w]; ok {
			words[i] = s
		}
	}
	return strings.Join(words, " ")
}

// Asked returns the step that is asked for now.
func (m *Machine) Asked() Step { return m.step }
