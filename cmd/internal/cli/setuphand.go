package cli

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// handheldEntry is a meter without a port, as it was answered.
type handheldEntry struct {
	name, due string
	ranges    []handRange
}

// handRange is what a manual states for one range, in the words of the file.
type handRange struct {
	quantity                 capture.Quantity
	full, step, part, digits string
}

// manualRange is "6 V 0.001 0.5% 2": full scale, one count, per cent of the
// reading, counts of the last digit.
var manualRange = regexp.MustCompile(`^([0-9.]+) *(V|ohm|Ω)[ ,]+([0-9.]+)[ ,]+([0-9.]+) *%?[ ,+]+([0-9.]+)$`)

func parseManualRange(s string) (handRange, error) {
	m := manualRange.FindStringSubmatch(s)
	if m == nil {
		return handRange{}, fmt.Errorf("%q: full scale, one count, per cent of the reading and digits, such as 6 V 0.001 0.5%% 2", s)
	}
	r := handRange{quantity: capture.DCVoltage, full: m[1], step: m[3], digits: m[5]}
	if m[2] != "V" {
		r.quantity = capture.Resistance
	}
	var figures [4]float64
	for i, text := range []string{m[1], m[3], m[4], m[5]} {
		f, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return handRange{}, fmt.Errorf("%q is no figure: answer such as 6 V 0.001 0.5%% 2", text)
		}
		figures[i] = f
	}
	switch full, step, per, digits := figures[0], figures[1], figures[2], figures[3]; {
	case full <= 0 || step <= 0 || step >= full || full > 1e12 || step < 1e-15:
		return handRange{}, fmt.Errorf("%s and %s: first the full scale, then one count of it", m[1], m[3])
	case per > 50 || digits > 1000:
		return handRange{}, fmt.Errorf("%s %% and %s digits: at most 50 %% and 1000 digits", m[4], m[5])
	default:
		r.part = strconv.FormatFloat(per/100, 'g', 10, 64) // the file wants a part, and 0.3/100 ends in noise
	}
	return r, nil
}

func (h handheldEntry) yaml(line func(string, ...any)) {
	line("  - name: %s", quoted(h.name))
	if h.due != "" {
		line("    calibration_due: %s", h.due)
	}
	if len(h.ranges) > 0 {
		line("    accuracy:")
	}
	for _, r := range h.ranges {
		line("      - {quantity: %s, range: %s, resolution: %s, of_reading: %s, digits: %s, source: \"its manual, as typed in setup\"}", r.quantity, r.full, r.step, r.part, r.digits)
	}
}

// names are the names that are taken on a bench.
func (p plan) names() []string {
	var out []string
	for _, e := range p.instruments {
		out = append(out, e.name)
	}
	for _, h := range p.handhelds {
		out = append(out, h.name)
	}
	return out
}

// askHandhelds asks for the meters whose readings are typed.
func (u *setup) askHandhelds(ctx context.Context, _ []wire.Port) error {
	u.heading("Meters without a port")
	u.say("Their readings are typed: steadyrail enter RAIL 4.98 --meter NAME. Without a range\nfrom the manual they are indicated only, and nothing is decided by them.")
	for {
		name, err := u.asker.ask(ctx, question{text: "Name", empty: "no more", check: u.checkName})
		if err != nil || name == "" {
			return err
		}
		h := handheldEntry{name: name}
		if h.due, err = u.asker.ask(ctx, question{text: "  Calibration due, as 2027-03-01", empty: "not stated", check: checkDate}); err != nil {
			return err
		}
		if h.ranges, err = u.askRanges(ctx); err != nil {
			return err
		}
		u.plan.handhelds = append(u.plan.handhelds, h)
	}
}

func (u *setup) askRanges(ctx context.Context) (out []handRange, err error) {
	q := question{text: "  A range from its manual, as 6 V 0.001 0.5% 2 (ohm too)", empty: "no more", check: func(s string) (string, error) {
		_, err := parseManualRange(s)
		return s, err
	}}
	for {
		s, err := u.asker.ask(ctx, q)
		if err != nil || s == "" {
			return out, err
		}
		r, err := parseManualRange(strings.TrimSpace(s))
		if err != nil {
			return out, err
		}
		out = append(out, r)
	}
}
