package rules

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// Returned compares how a set left with how it came back: each rail of the later
// job whose name the earlier one has too, by its last figure of then (under load,
// else as found) and its first of now.
//
// The uncertainty of a difference takes the two figures as independent: months
// lie between them, and often another meter. Where it was the same one, what it
// has of constant error cancels, and the stated figure is too large rather than
// too small (JCGM 100:2008, 5.2.2, with a correlation of zero).
func Returned(left, back capture.Dossier) capture.Return {
	out := capture.Return{Job: left.Sheet.Job, Left: left.To, Rails: []capture.ReturnRail{}}
	for _, now := range back.Rails {
		for _, then := range left.Rails {
			if then.Rail.Name != now.Rail.Name {
				continue
			}
			for _, q := range []capture.Quantity{capture.DCVoltage, capture.Resistance} {
				a, b := lastFigure(then, q), firstFigure(now, q)
				if a != nil || b != nil {
					out.Rails = append(out.Rails, compared(now.Rail.Name, q, a, b))
				}
			}
		}
	}
	return out
}

// lastFigure is how a rail left.
func lastFigure(r capture.RailEvidence, q capture.Quantity) *capture.Result {
	for _, list := range [][]capture.Result{r.After, r.Before} {
		for i := len(list) - 1; i >= 0; i-- {
			if list[i].Quantity == q && !list[i].Flags.Has(capture.NoValue) {
				return &list[i]
			}
		}
	}
	return nil
}

// firstFigure is how it came.
func firstFigure(r capture.RailEvidence, q capture.Quantity) *capture.Result {
	for _, list := range [][]capture.Result{r.Before, r.After} {
		for i := range list {
			if list[i].Quantity == q && !list[i].Flags.Has(capture.NoValue) {
				return &list[i]
			}
		}
	}
	return nil
}

func compared(rail string, q capture.Quantity, left, back *capture.Result) capture.ReturnRail {
	out := capture.ReturnRail{Rail: rail, Quantity: q, Left: left, Back: back}
	switch {
	case back == nil:
		out.Say = "Not measured yet"
		return out
	case left == nil:
		out.Say = "Not measured then"
		return out
	}
	out.Difference = back.Value - left.Value
	step := max(left.Resolution, back.Resolution)
	d := q.Unit().Text(math.Abs(out.Difference), step)
	apart, stated := uncertainty.En(left.Value, left.Uncertainty, back.Value, back.Uncertainty)
	if left.Uncertainty <= 0 || back.Uncertainty <= 0 || !stated {
		out.Say = "Cannot tell: " + strings.ToLower(way(out.Difference)) + " by " + d + ", no uncertainty is stated"
		return out
	}
	out.Uncertainty = math.Sqrt(float64(left.Uncertainty*left.Uncertainty) + float64(back.Uncertainty*back.Uncertainty))
	out.Moved = apart > 1
	if !out.Moved {
		out.Say = fmt.Sprintf("As it left, within %s", q.Unit().Text(out.Uncertainty, twoDigits(out.Uncertainty)))
		return out
	}
	out.Say = fmt.Sprintf("%s by %s ± %s", way(out.Difference), d, q.Unit().Text(out.Uncertainty, twoDigits(out.Uncertainty)))
	return out
}

func way(difference float64) string {
	if difference < 0 {
		return "Down"
	}
	return "Up"
}
