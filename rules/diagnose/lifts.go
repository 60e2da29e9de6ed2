package diagnose

import (
	"fmt"
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/isolate"
)

// lift is one line of the ledger while it is being written.
type lift struct {
	at     capture.Instant
	part   string
	before []*stay // the newest resistance of each rail that the part may load
	from   *stay   // the one of them that after is held against
	after  *stay
	alone  float64 // ohm; 0: not read
	back   capture.Instant
	again  *stay // on the same rail, after it was put back
}

// standing lists what the rails of a part read before it is lifted: of a part
// that no sheet knows, of all rails.
func (s *story) standing(part string) []*stay {
	rails := s.board.railsOf(part)
	var out []*stay
	for _, r := range s.board.Rails {
		if st := s.lastOhm[r.Name]; st != nil && (rails == nil || slices.Contains(rails, r.Name)) {
			out = append(out, st)
		}
	}
	return out
}

// afterLifts closes the newest lift that waits for a reading of this rail, and
// the one that was put back and waits for its check.
func (s *story) afterLifts(st *stay) {
	for i, l := range slices.Backward(s.lines) {
		same := l.from != nil && l.from.where.Rail == st.where.Rail
		if l.back != 0 && same && l.again == nil && i == len(s.lines)-1 {
			l.again = st
		}
		if l.after != nil || l.back != 0 {
			continue
		}
		at := slices.IndexFunc(l.before, func(b *stay) bool { return b.where.Rail == st.where.Rail })
		if at < 0 {
			continue
		}
		l.from, l.after = l.before[at], st
		return
	}
}

// doubt is what is not known about two resistances of one rail.
func doubt(a, b *stay) isolate.Doubt {
	d := isolate.Doubt{Gain: max(a.gain(), b.gain()), Leads: leadDoubt, Contact: clippedScatter}
	if !a.nulled || !b.nulled {
		d.Leads = leadUnknown
	}
	if a.typed || b.typed || a.where.Hold == capture.Touched || b.where.Hold == capture.Touched {
		d.Contact = touchedScatter
	}
	return d
}

func (s *story) ledger() []capture.LedgerLine {
	out := []capture.LedgerLine{}
	for _, l := range s.lines {
		out = append(out, s.line(l))
	}
	return out
}

func (s *story) line(l *lift) capture.LedgerLine {
	out := capture.LedgerLine{At: l.at, Part: l.part, Back: l.back != 0, Word: "not judged", BeforeText: "", AfterText: ""}
	if !math.IsInf(l.alone, 1) {
		out.Alone = l.alone
	}
	if l.after == nil {
		out.Say = "Not judged: no resistance was read before and after on a rail that it loads."
		if len(l.before) > 0 {
			b := l.before[0]
			out.Rail, out.Before, out.BeforeText = b.where.Rail, b.ohm(), b.text()
			out.Say = "Not read yet: read " + out.Rail + " again, as before, when the board is cool."
			if b.open {
				out.Before = 0
			} else {
				out.Could = isolate.Could(b.ohm(), doubt(b, b))
			}
		}
		return out
	}
	s.judge(l, &out)
	return out
}

// judge compares the readings of a lift.
func (s *story) judge(l *lift, out *capture.LedgerLine) {
	b, a := l.from, l.after
	out.Rail, out.BeforeText, out.AfterText = b.where.Rail, b.text(), a.text()
	if out.Open = a.open; !a.open {
		out.After = a.ohm()
	}
	if why := unlike(b, a); why != "" {
		out.Before, out.Word, out.Say = b.ohm(), string(isolate.CannotTell), "Cannot tell: "+why+"."
		return
	}
	c, err := isolate.Compare(b.ohm(), a.ohm(), doubt(b, a))
	if err != nil {
		out.Word, out.Say = "not judged", "Not judged: the rail was open before the lift."
		return
	}
	out.Before, out.Share, out.Low, out.High = b.ohm(), c.Share, c.ShareLow, c.ShareHigh
	out.Could = isolate.Could(b.ohm(), doubt(b, a))
	r, _ := s.board.Rail(b.where.Rail)
	word, why := c.Judge(out.Alone, shortOf(r))
	if math.IsInf(l.alone, 1) && word == isolate.CannotTell && c.ShareLow > isolate.ConvictAbove {
		why += "; by itself it reads open: the short sits behind what was opened"
	}
	if word == isolate.CannotTell && (!a.nulled || !b.nulled) {
		why += "; the leads were not nulled"
	}
	out.Word, out.Say = string(word), firstUpper(string(word))+": "+why+"."
	out.Change = changed(l)
}

func shortOf(r capture.Rail) float64 {
	if r.ShortBelow > 0 {
		return r.ShortBelow
	}
	return capture.DefaultShortBelow
}

// unlike says why two readings may not be compared: another meter, another
// point or another return. The range may change with the value; its gain then
// counts as the worse of the two.
func unlike(a, b *stay) string {
	switch {
	case a.channel != b.channel:
		return fmt.Sprintf("%s read before and %s after; use one meter for both", a.channel, b.channel)
	case a.where.Point != b.where.Point || a.where.Return != b.where.Return:
		return fmt.Sprintf("read at %s before and at %s after; use the same points and polarity", placeName(a.where), placeName(b.where))
	}
	return ""
}

func placeName(p capture.Placement) string {
	out := p.Point
	if out == "" {
		out = p.Rail
	}
	if p.Return != "" {
		out += " to " + p.Return
	}
	return out
}

// changed holds the rail with the part back in place against before the lift.
func changed(l *lift) string {
	if l.again == nil || unlike(l.from, l.again) != "" {
		return ""
	}
	c, err := isolate.Compare(l.from.ohm(), l.again.ohm(), doubt(l.from, l.again))
	if err != nil || math.Abs(c.Share) < 0.1 || math.Abs(c.Left) < 3.29*c.U {
		return ""
	}
	return fmt.Sprintf("With %s back %s reads %s, before the lift %s: something else changed.", l.part, l.from.where.Rail, l.again.text(), l.from.text())
}

// worthSaying is the branch, in ohm, from which on a lift tells everything that
// anybody would lift.
const worthSaying = 100e3

// limits says of each rail that reads low what a lift could tell now.
func (s *story) limits() []capture.LiftLimit {
	out := []capture.LiftLimit{}
	for _, r := range s.board.Rails {
		st := s.lastOhm[r.Name]
		if st == nil || st.open {
			continue
		}
		d := doubt(st, st)
		if isolate.Highest(st.ohm(), d) > worthSaying {
			continue
		}
		out = append(out, capture.LiftLimit{
			Rail: r.Name, Standing: st.ohm(), Highest: isolate.Highest(st.ohm(), d),
			Say: fmt.Sprintf("%s stands at %s: %s.", r.Name, st.text(), isolate.Could(st.ohm(), d)),
		})
	}
	return out
}

func isolateCould(st *stay) string { return isolate.Could(st.ohm(), doubt(st, st)) }
