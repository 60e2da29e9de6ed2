package web

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"steadyrail/capture"
)

// nbsp keeps a figure with its unit and a rail's name with itself.
const nbsp = "\u00a0"

// together replaces spaces by no-break spaces in short names. A long name must
// be able to break, or it would push the page sideways on a phone.
func together(s string) string {
	s = capture.TrueMinus(s)
	if len(s) > 18 {
		return s
	}
	return strings.ReplaceAll(s, " ", nbsp)
}

// parted is a figure that a line could end on, away from its unit.
var parted = regexp.MustCompile(`([0-9]) ((?:[kMm\x{b5}\x{3bc}]?[VA\x{3a9}\x{2126}]|\x{b0}C|%|ms|s|min|h)(?:[^\pL]|$))`)

// glue keeps the figures of a sentence with their units.
func glue(s string) string { return parted.ReplaceAllString(s, "${1}"+nbsp+"${2}") }

// withUnit joins a figure and its unit.
func withUnit(figure, unit string) string { return strings.TrimRight(figure+nbsp+unit, nbsp) }

// ageText says how old something is: "0.4 s", "38 s", "4 min", "2 h 10 min".
func ageText(d time.Duration) string {
	s := d.Seconds()
	switch {
	case s < 9.95:
		return fmt.Sprintf("%.1f"+nbsp+"s", s)
	case s < 120:
		return fmt.Sprintf("%.0f"+nbsp+"s", s)
	case s < 7200:
		return fmt.Sprintf("%.0f"+nbsp+"min", s/60)
	}
	return spanText(d)
}

// spanText says how long something took or shall take.
func spanText(d time.Duration) string {
	d = d.Round(time.Second)
	h, m, s := int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60
	switch {
	case h > 0 && m > 0:
		return fmt.Sprintf("%d"+nbsp+"h %d"+nbsp+"min", h, m)
	case h > 0:
		return fmt.Sprintf("%d"+nbsp+"h", h)
	case m > 0 && s > 0 && m < 10:
		return fmt.Sprintf("%d"+nbsp+"min %d"+nbsp+"s", m, s)
	case m > 0:
		return fmt.Sprintf("%d"+nbsp+"min", m)
	}
	return fmt.Sprintf("%d"+nbsp+"s", s)
}

var counts = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// count says a number in a sentence.
func count(n int) string {
	if n >= 0 && n < len(counts) {
		return counts[n]
	}
	return fmt.Sprint(n)
}

// many says a number with its noun: "one rail", "four rails".
func many(n int, noun string) string {
	if n == 1 {
		return count(n) + nbsp + noun
	}
	return count(n) + nbsp + noun + "s"
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return capital(s)
	}
	return capital(s) + "."
}

// capital turns the first letter of a sentence.
func capital(s string) string {
	return capture.Capital(s)
}

// clock prints an instant in the bench's zone with seconds, for events.
func (v *view) clock(i capture.Instant) string {
	if i.IsZero() {
		return ""
	}
	return i.Time().In(v.zone).Format("15:04:05")
}

// when prints an instant for a list: with its day unless it is today's.
func (v *view) when(i capture.Instant) string {
	if i.IsZero() {
		return ""
	}
	t, now := i.Time().In(v.zone), v.snap.Now.Time().In(v.zone)
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04:05")
	}
	return t.Format("Mon 2 Jan, 15:04")
}

// short is when without the date, for a narrow column.
func (v *view) short(i capture.Instant) string {
	t, now := i.Time().In(v.zone), v.snap.Now.Time().In(v.zone)
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("Mon 15:04")
}

// splitSay parts a sentence of the rules at its first colon: the news and the
// proof.
func splitSay(say string) (news, proof string) {
	news, proof, ok := strings.Cut(say, ": ")
	if !ok {
		return say, ""
	}
	return news, capital(proof)
}

// channelWords names a channel for people: "dmm, volts".
func channelWords(c capture.ChannelID) string {
	if c.Input() == "" {
		return c.Instrument()
	}
	return c.Instrument() + ", " + c.Input()
}

// flagWords says the flags of a reading for people; empty when there are none
// worth saying.
func flagWords(f capture.Flags) string {
	for _, w := range []struct {
		flag capture.Flags
		say  string
	}{
		{capture.Held, "display on hold"},
		{capture.LowBattery, "meter battery low"},
		{capture.Limiting, "supply is limiting"},
		{capture.ByEye, "read by eye"},
		{capture.Typed, "typed"},
		{capture.OverRange, "above the range"},
		{capture.UnderRange, "below the range"},
		{capture.NotANumber, "meter gave no number"},
		{capture.TimedOut, "no answer in time"},
		{capture.Garbled, "answer not readable"},
		{capture.Disconnected, "link gone"},
		{capture.Mismatch, "another instrument answered"},
		{capture.Refused, "meter refused"},
	} {
		if f.Has(w.flag) {
			return w.say
		}
	}
	return ""
}
