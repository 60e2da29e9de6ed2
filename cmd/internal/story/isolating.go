package story

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
	"steadyrail/rules/isolate"
)

// mostAsked is how often the record is asked: from this board nothing more comes
// off.
const mostAsked = 8

// errNoHand is returned when nothing is left that these hands can do.
var errNoHand = errors.New("nothing is left that the technician of the demo can do")

// isolate asks the record what to do next and does it, until a part is
// convicted.
func (s *Story) isolate(ctx context.Context) error {
	if err := s.stage(ctx, capture.Isolate); err != nil {
		return err
	}
	if err := s.hear(ctx); err != nil {
		return err
	}
	if err := s.clip5(ctx); err != nil {
		return err
	}
	for range mostAsked {
		f, err := s.App.Isolator().Search(ctx, s.job)
		if err != nil {
			return err
		}
		if guilty := convicted(f); guilty != "" {
			return s.close(ctx, f, guilty)
		}
		if err := s.follow(ctx, f); err != nil {
			return err
		}
	}
	return fmt.Errorf("%s: no part was convicted", rail5)
}

// clip5 proves +5 V dead once more, and reads what stands on it.
func (s *Story) clip5(ctx context.Context) error {
	at := where{rail: rail5, point: sim.Point5, hold: capture.Clipped}
	if _, err := s.read(ctx, volts, at); err != nil {
		return err
	}
	_, err := s.read(ctx, ohms, at)
	return err
}

// convicted names the part that the ledger convicts.
func convicted(f capture.FaultSearch) string {
	for _, l := range f.Ledger {
		if l.Word == "convicted" && !l.Back {
			return l.Part
		}
	}
	return ""
}

// follow does what the record asks for. What a lift left open comes first. An
// entry that would only tell about a rail that is well is left for later: then
// the likeliest part comes off.
func (s *Story) follow(ctx context.Context, f capture.FaultSearch) error {
	if part := unproven(f); part != "" {
		return s.alone(ctx, part)
	}
	if f.Next != nil && onRail5(f.Next.Lift) {
		s.say("  Next: %s", f.Next.Say)
		return s.lift(ctx, f.Next.Lift)
	}
	for _, x := range f.Explanations {
		if len(x.Faults) == 1 && onRail5(x.Faults[0].Part) && !slices.Contains(f.Off, x.Faults[0].Part) {
			s.say("  Of what is left on %s, one of the likeliest, with %.0f %%: %s.", rail5, 100*x.Share, x.Say)
			return s.lift(ctx, x.Faults[0].Part)
		}
	}
	return errNoHand
}

// onRail5 reports whether a part comes off +5 V.
func onRail5(part string) bool { return slices.Contains([]string{sim.CN3, sim.C104, sim.PS2}, part) }

// unproven is a part with which most of the short went, and that was not read
// by itself.
func unproven(f capture.FaultSearch) string {
	for _, l := range f.Ledger {
		if !l.Back && l.Alone == 0 && l.Low > isolate.ConvictAbove {
			return l.Part
		}
	}
	return ""
}

// lift takes a part off, reads again and says what that proves.
func (s *Story) lift(ctx context.Context, part string) error {
	res, err := s.App.Isolator().File(ctx, s.job, dashboards.IsolateAsk{Entry: "lift " + part})
	if err != nil {
		return err
	}
	s.say("  %s", res.Say)
	if err := s.Bench.Unplug(part); err != nil {
		return err
	}
	if err := s.again(ctx); err != nil {
		return err
	}
	return s.tellLift(ctx, part)
}

// again waits until the clip on +5 V reads steadily, and is judged.
func (s *Story) again(ctx context.Context) error {
	if _, err := s.steady(ctx, ohms, s.Clock.Now().Add(time.Second)); err != nil {
		return err
	}
	_, err := s.judgedShort(ctx, rail5)
	return err
}

// alone reads a lifted part by itself, and clips to +5 V again.
func (s *Story) alone(ctx context.Context, part string) error {
	if part != sim.PS2 {
		return fmt.Errorf("%w: %s by itself", errNoHand, part)
	}
	r, err := s.read(ctx, ohms, where{point: sim.PointPS2, hold: capture.Clipped})
	if err != nil {
		return err
	}
	r.Value -= s.null
	s.say("  %s by itself: %s.", part, text(r))
	if _, err := s.read(ctx, ohms, where{rail: rail5, point: sim.Point5, hold: capture.Clipped}); err != nil {
		return err
	}
	return s.tellLift(ctx, part)
}

// tellLift says what the ledger has about a lifted part, and files it when it
// is a finding.
func (s *Story) tellLift(ctx context.Context, part string) error {
	f, err := s.App.Isolator().Search(ctx, s.job)
	if err != nil {
		return err
	}
	for _, l := range slices.Backward(f.Ledger) {
		if l.Part != part {
			continue
		}
		s.say("  %s lifted: %s, then %s. %s", part, l.BeforeText, l.AfterText, l.Say)
		if l.Word != "acquitted" && l.Word != "convicted" || s.filed[part] == l.Word {
			return nil
		}
		s.filed[part] = l.Word
		_, err = s.App.Isolator().File(ctx, s.job, dashboards.IsolateAsk{Finding: part})
		return err
	}
	return nil
}

func (s *Story) putBack(ctx context.Context, part string) error {
	if _, err := s.App.Isolator().File(ctx, s.job, dashboards.IsolateAsk{Entry: "put back " + part}); err != nil {
		return err
	}
	if err := s.Bench.Plug(part); err != nil {
		return err
	}
	return s.again(ctx)
}

// close puts back what was only suspected, and says how sure the record is.
func (s *Story) close(ctx context.Context, f capture.FaultSearch, guilty string) error {
	var back []string
	for _, part := range f.Off {
		if part == guilty {
			continue
		}
		if err := s.putBack(ctx, part); err != nil {
			return err
		}
		back = append(back, part)
	}
	if err := s.clip5(ctx); err != nil { // the proof that it is dead may be old by now
		return err
	}
	if err := s.cleared(ctx); err != nil {
		return err
	}
	f, err := s.App.Isolator().Search(ctx, s.job)
	if err != nil {
		return err
	}
	if len(back) > 0 {
		s.say("%s back in place; %s stays out.", strings.Join(back, " and "), guilty)
	}
	if len(f.Explanations) == 0 {
		return fmt.Errorf("%s is convicted, and nothing on the sheet explains it", guilty)
	}
	s.say("%s. Of all that the sheet has: %.0f %% that %s.", f.Say, 100*f.Explanations[0].Share, f.Explanations[0].Say)
	return s.hear(ctx)
}

// cleared waits until +5 V is known not to be short: power goes on no sooner.
func (s *Story) cleared(ctx context.Context) error {
	until := s.Clock.Now().Add(time.Minute)
	return s.watch(ctx, func(snap live.Snapshot) bool {
		v, _ := s.verdict(rail5, "short")
		return v.Outcome == capture.Pass || snap.Now > until
	})
}
