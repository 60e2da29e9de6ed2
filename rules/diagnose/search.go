package diagnose

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
)

// toldAtLeast is the share below which an explanation is not told.
const toldAtLeast = 0.005

// Search says what the trail comes to: the two-by-two, the ledger, the ranked
// explanations and the next entry. Without a sheet (nil) nothing is ranked. The
// error wraps [ErrEntry].
func (t *Trail) Search(b *Board) (capture.FaultSearch, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := t.read(b)
	out := capture.FaultSearch{
		Job: t.sheet.Job, Since: s.since, TwoByTwo: []capture.TwoByTwo{}, Explanations: []capture.IsolateExplanation{}, Contradictions: []string{},
		Ledger: s.ledger(), Limits: s.limits(), Walks: s.walksFound(), Off: slices.Concat([]string{}, s.off), Unused: slices.Concat([]capture.UnusedReading{}, s.unused), UnusedBy: capture.GroupUnused(s.unused), Entries: []string{},
	}
	if s.ranked {
		if err := s.rank(t.engineOf(b), &out); err != nil {
			return out, err
		}
	}
	out.Say = s.news(out)
	return out, nil
}

// Told is what a log of a board comes to, for a log that is no job's.
func Told(b Board, log []Entry) (capture.FaultSearch, error) {
	s := &story{board: b, ranked: true, log: log}
	out := capture.FaultSearch{TwoByTwo: []capture.TwoByTwo{}, Explanations: []capture.IsolateExplanation{}, Contradictions: []string{}, Ledger: []capture.LedgerLine{},
		Limits: []capture.LiftLimit{}, Walks: []capture.ShortWalk{}, Off: []string{}, Unused: []capture.UnusedReading{}, UnusedBy: []capture.UnusedGroup{}, Entries: []string{}}
	err := s.rank(New(b), &out)
	out.Say = s.news(out)
	return out, err
}

func (s *story) rank(g *Engine, out *capture.FaultSearch) error {
	r, err := g.Weigh(s.log)
	if err != nil {
		return err
	}
	out.Board, out.Sensitivity, out.Minutes, out.Trust = s.board.Name, r.Sensitivity, r.Minutes, Trust
	for i, x := range r.Ranked {
		if x.P < toldAtLeast && i > 0 {
			break
		}
		line := capture.IsolateExplanation{Say: x.Say, Share: x.P, Other: x.Other}
		for _, f := range x.Faults {
			line.Faults = append(line.Faults, capture.IsolateFault{Part: f.Part, Kind: string(f.Kind)})
		}
		out.Explanations = append(out.Explanations, line)
	}
	for _, c := range r.Contradictions {
		if c.Figure {
			out.Figures = append(out.Figures, c.Say)
			continue
		}
		out.Contradictions = append(out.Contradictions, c.Say)
	}
	out.Figures = slices.Compact(out.Figures)
	for _, e := range s.log {
		out.Entries = append(out.Entries, e.Text)
	}
	out.TwoByTwo = s.board.table(r.TwoByTwo, s.asked(r))
	if r.Next != nil {
		out.Next = s.next(*r.Next, r)
	}
	return nil
}

// asked is the rail that the two-by-two is about while no test was made: that
// of the likeliest fault.
func (s *story) asked(r Result) string {
	for _, x := range r.Ranked {
		for _, f := range x.Faults {
			for _, rail := range s.board.railsOf(f.Part) {
				if len(s.board.connectorsOn(rail)) > 0 {
					return rail
				}
			}
		}
	}
	return ""
}

// next words a step with what speaks for it.
func (s *story) next(step Step, r Result) *capture.NextEntry {
	out := &capture.NextEntry{Say: step.Say, Minutes: step.Minutes, Bits: step.Bits, Why: s.why(step, r)}
	switch step.Do {
	case Remove:
		out.Lift = step.Part
		if st := s.lastOhm[step.At.Subject]; step.At.Where == Ohms && st != nil && !st.open {
			out.Could = firstUpper(isolateCould(st)) + "."
		}
	case PutBack:
		out.Line = "put back " + step.Part
	}
	if out.Line == "" {
		out.Line = lineOf(step.At)
	}
	return out
}

// lineOf is how a test by hand begins in the log; readings of rails have none,
// for the meter files them.
func lineOf(at Point) string {
	switch at.Where {
	case SourceAlone:
		return "source " + at.Subject
	case LoadAlone:
		return "load " + at.Subject
	case Enabled:
		return "enable " + at.Subject
	case Behind:
		return "behind " + at.Subject
	case Across:
		return "across " + at.Subject
	case Alone:
		return "alone " + at.Subject
	}
	return ""
}

// why says between which of the likeliest explanations the step decides.
func (s *story) why(step Step, r Result) string {
	var names []string
	for _, x := range r.Ranked[:min(2, len(r.Ranked))] {
		names = append(names, "“"+x.Say+"”")
	}
	return fmt.Sprintf("It is worth the most for its time: about %.2g bit in %.1f min. First now: %s.", step.Bits, step.Minutes, strings.Join(names, ", then "))
}

// news is the sentence over everything: what contradicts first, then what
// convicted, then where walking came to, and only then what is likely.
func (s *story) news(f capture.FaultSearch) string {
	for _, l := range f.Ledger {
		if l.Word == "something else changed" || l.Change != "" {
			return "Something else changed while " + l.Part + " was off"
		}
	}
	if len(f.Contradictions) > 0 {
		return "The entries contradict each other"
	}
	for _, l := range slices.Backward(f.Ledger) {
		if l.Word == "convicted" && !l.Back {
			return l.Part + " is convicted: it carries the short of " + l.Rail
		}
	}
	for _, w := range f.Walks {
		if w.Word == "found" && len(w.Between) == 2 {
			return fmt.Sprintf("The short of %s lies between %s and %s", w.Rail, w.Between[0], w.Between[1])
		}
	}
	switch {
	case len(f.Figures) > 0:
		return "A reading after a lift is not what the sheet has"
	case !s.ranked:
		return "No board sheet: only lifts are judged"
	case len(s.log) == 0:
		return "Nothing was read yet"
	case f.Explanations[0].Share >= sureEnough:
		return firstUpper(f.Explanations[0].Say)
	}
	return "Not decided: first is “" + f.Explanations[0].Say + "”"
}

// sureEnough is the share from which on the first explanation is the news.
const sureEnough = 0.9

// Acts turns a line that a person wrote about the job into the act that is
// recorded, after it was held against what is off the board. A rail's reading
// is none: it is entered as a reading. The error wraps [ErrEntry].
func (t *Trail) Acts(b *Board, line string) (capture.Act, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	line = strings.Join(strings.Fields(line), " ")
	s := t.read(b)
	if w, ok, err := parseWalk(s.board, line); ok {
		if err != nil {
			return capture.Act{}, fmt.Errorf("%w: %w", ErrEntry, err)
		}
		return capture.Act{Verb: capture.ActTried, Subject: w.rail, Text: line}, nil
	}
	p := &parser{board: s.board, line: 1, off: s.off, free: !s.ranked}
	e, ok := p.entry(line)
	if !ok {
		return capture.Act{}, fmt.Errorf("%w: %s", ErrEntry, p.bad[0].Why)
	}
	switch {
	case e.Verb == Remove:
		return capture.Act{Verb: capture.ActLift, Subject: e.Part}, nil
	case e.Verb == PutBack:
		return capture.Act{Verb: capture.ActPutBack, Subject: e.Part}, nil
	case (e.At.Where == Ohms || e.At.Where == Volts) && e.Word == "":
		_, rest, _ := longest(railNames(s.board), line)
		return capture.Act{}, &RailReading{Rail: e.At.Subject, Text: strings.TrimSuffix(rest, " hot")}
	case !s.ranked && e.At.Where != Alone:
		return capture.Act{}, fmt.Errorf("%w: %w", ErrEntry, errors.New("the job has no board sheet; give it one: steadyrail isolate sheet FILE.yaml"))
	}
	return capture.Act{Verb: capture.ActTried, Subject: e.At.Subject, Text: line}, nil
}

// RailReading is the error of a line that is a reading of a rail: it is no act,
// and is entered as a reading, with the meter's name and its accuracy.
type RailReading struct{ Rail, Text string }

func (e *RailReading) Error() string {
	return fmt.Sprintf("%s %s is a reading: enter it as one, or take it with a probe", e.Rail, e.Text)
}

// Unwrap returns [ErrEntry].
func (e *RailReading) Unwrap() error { return ErrEntry }

// Finding is the conclusion about a lifted part, as the ledger has it. The
// error wraps [ErrEntry] when the part was not lifted or not judged.
func (t *Trail) Finding(b *Board, part string) (capture.Act, error) {
	f, err := t.Search(b)
	if err != nil {
		return capture.Act{}, err
	}
	for _, l := range slices.Backward(f.Ledger) {
		switch {
		case !strings.EqualFold(l.Part, part):
		case l.AfterText == "":
			return capture.Act{}, fmt.Errorf("%w: %s: %s", ErrEntry, part, l.Say)
		default:
			text := fmt.Sprintf("%s %s before, %s after. %s", l.Rail, l.BeforeText, l.AfterText, l.Say)
			if l.Change != "" {
				text += " " + l.Change
			}
			return capture.Act{Verb: capture.ActFinding, Subject: l.Part, Text: text}, nil
		}
	}
	return capture.Act{}, fmt.Errorf("%w: %s was not lifted", ErrEntry, part)
}

func firstUpper(s string) string {
	return capture.Capital(s)
}
