package rules

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// levels says what the soak measured, rail by rail: the worst mean over a window,
// and between what the single readings lie.
func (b *builder) levels() (out []string) {
	for _, r := range b.out.Rails {
		name := capture.TrueMinus(r.Rail.Name)
		if r.Soak != nil {
			out = append(out, name+": "+level(r.Soak))
		}
		for _, w := range r.Watches {
			if w.N == 0 {
				continue
			}
			from := ""
			if len(r.Watches) > 1 {
				from = " by " + string(w.Channel)
			}
			said := coverage.Tolerance(w, capture.Volt)
			if w.Outside > 0 {
				said = coverage.Inside(w)
			}
			out = append(out, name+from+": "+strings.ToLower(said[:1])+said[1:])
		}
	}
	return out
}

// level says what the worst window of a rail came to.
func level(f *capture.SoakFigure) string {
	figure := capture.Volt.Text(f.Value, f.Resolution)
	if f.Uncertainty > 0 {
		figure += " ± " + capture.Volt.Text(f.Uncertainty, twoDigits(f.Uncertainty)) + " (k = 2)"
	}
	if f.Windows == 1 {
		return fmt.Sprintf("mean over a minute %s, %s.", figure, outcomeWords(f))
	}
	return fmt.Sprintf("worst of %s means over a minute %s, %s.", coverage.Count(f.Windows), figure, outcomeWords(f))
}

// outcomeWords are the four outcomes of a decision with guard band w = U
// (ILAC-G8:09/2019, 4.2.3), in words; bare bounds decide where no accuracy is
// stated.
func outcomeWords(f *capture.SoakFigure) string {
	switch {
	case f.Uncertainty <= 0 && f.Outcome == capture.Pass:
		return "inside the band as indicated, no accuracy stated"
	case f.Uncertainty <= 0:
		return "outside the band as indicated, no accuracy stated"
	case f.Outcome == capture.Pass:
		return "inside the band"
	case f.Outcome == capture.ConditionalPass:
		return "cannot tell, inside the band but nearer to its edge than the meter can tell"
	case f.Outcome == capture.ConditionalFail:
		return "cannot tell, outside the band but nearer to its edge than the meter can tell"
	}
	return "outside the band" + outsideCount(f)
}

func outsideCount(f *capture.SoakFigure) string {
	if f.Outside < 2 {
		return ""
	}
	return ", and so were " + coverage.Count(f.Outside) + " in all"
}

// twoDigits prints an uncertainty with two digits (GUM 7.2.6).
func twoDigits(u float64) float64 { return capture.Decade(u) / 10 }

// held reports whether no rail's worst window lies outside its band. Where the
// meter cannot tell, outside does not pass.
func (b *builder) held() bool {
	for _, r := range b.out.Rails {
		if r.Soak != nil && (r.Soak.Outcome == capture.Fail || r.Soak.Outcome == capture.ConditionalFail) {
			return false
		}
	}
	return true
}

// soakLasted says how long it soaked, how much of that was watched, in which pieces,
// and apart from them how long power was off as planned.
func soakLasted(s *capture.SoakEvidence) string {
	out := "Soaked for " + coverage.Long(s.To.Sub(s.From))
	if s.Planned > 0 && s.Off == 0 {
		out += " of " + coverage.Long(s.Planned) + " planned"
	}
	if s.Off > 0 {
		out += ", of it with power off as planned for " + coverage.Long(s.Off)
	}
	if s.Watched > 0 && s.Watched < s.To.Sub(s.From) {
		out += ", watched for " + coverage.Long(s.Watched)
	}
	if s.Planned > 0 && s.Off > 0 {
		out += " of " + coverage.Long(s.Planned) + " planned under power"
	}
	if s.Pieces > 1 && s.Watched > 0 {
		out += fmt.Sprintf(" in %d pieces of %s", s.Pieces, coverage.Pieces(s.Parts, coverage.Long))
	}
	return out
}

// parts lists the stretches of the soak that were watched, in order.
func parts(s *capture.SoakEvidence, blind []capture.Gap) (out []capture.SoakPart) {
	from := s.From
	for _, g := range blind {
		if g.From > from {
			out = append(out, capture.SoakPart{From: from, To: g.From})
		}
		from = g.To
	}
	if from < s.To {
		out = append(out, capture.SoakPart{From: from, To: s.To})
	}
	return out
}

// missable says which dips may have come without being seen.
func missable(watches []capture.Watch) (out []string) {
	if dip := worstDip(watches); dip > 0 {
		out = append(out, fmt.Sprintf("A single dip to half that is shorter than %s may have gone unseen.", coverage.Long(dip)))
	}
	if len(watches) == 0 || len(watches[0].Chance) == 0 {
		return out
	}
	least := watches[0]
	for _, w := range watches {
		if len(w.Chance) == 0 {
			return out // of a channel that may be the worst nothing is known
		}
		if w.Chance[len(w.Chance)-1].Seen < least.Chance[len(least.Chance)-1].Seen {
			least = w
		}
	}
	var seen []string
	for _, c := range least.Chance {
		seen = append(seen, fmt.Sprintf("%s in %s %%", coverage.Long(c.Length), capture.Figure(math.Floor(100*c.Seen), 1)))
	}
	return append(out, "One of "+strings.Join(seen, ", of ")+" of cases would have been seen, on the rail watched least.")
}
