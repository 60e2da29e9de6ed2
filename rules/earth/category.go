package earth

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// Rating is a measurement category with its voltage to earth (IEC 61010-2-030).
type Rating struct {
	Category int     // 1 to 4; 1 is the former category I: not for mains
	Volts    float64 // volt rms or DC to earth
}

// String writes "CAT II 300 V".
func (r Rating) String() string {
	return fmt.Sprintf("CAT %s %g V", [...]string{"0", "I", "II", "III", "IV"}[r.Category], r.Volts)
}

// Covers reports whether a rating is enough for a need: the category and the
// voltage must both reach it. A higher category at a lower voltage withstands the
// same impulse at best, but not the working voltage (IEC 61010-1 and
// IEC 61010-2-030, from memory).
func (r Rating) Covers(need Rating) bool {
	return r.Category >= 2 && r.Category >= need.Category && r.Volts >= need.Volts
}

var oneRating = regexp.MustCompile(`^(?i)CAT\s*(I|II|III|IV)\s+([1-9]\d{0,5})\s*V$`)

// ParseRatings reads what stands beside the sockets: "CAT II 300 V", or several
// with a comma or a stroke between them, "CAT III 600 V, CAT II 1000 V".
func ParseRatings(text string) ([]Rating, error) {
	var out []Rating
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == '/' }) {
		m := oneRating.FindStringSubmatch(strings.TrimSpace(part))
		if m == nil {
			return nil, fmt.Errorf("%q is no measurement category with its voltage, such as CAT II 300 V", strings.TrimSpace(part))
		}
		volts, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			return nil, fmt.Errorf("volts of %q: %w", part, err)
		}
		out = append(out, Rating{Category: categories[strings.ToUpper(m[1])], Volts: volts})
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no measurement category is stated")
	}
	return out, nil
}

var categories = map[string]int{"I": 1, "II": 2, "III": 3, "IV": 4}

// mainsNeed is what the mains side of a set on a socket outlet asks for:
// category II (IEC 61010-2-030), and 300 V to earth, which the nominal systems of
// 230 V line to neutral need (IEC 61010-1, from memory).
var mainsNeed = Rating{Category: 2, Volts: 300}

// Need returns what a rail asks of an instrument and its leads: on the mains side
// category II and 300 V, or more when the rail itself has more; elsewhere no
// category and the rail's own voltage.
func Need(r capture.Rail) Rating {
	volts := math.Abs(r.Nominal)
	for _, edge := range []float64{r.Bounds.Low, r.Bounds.High} {
		if !math.IsInf(edge, 0) {
			volts = max(volts, math.Abs(edge))
		}
	}
	if r.Side != capture.Mains {
		return Rating{Volts: math.Abs(r.Nominal)}
	}
	return Rating{Category: mainsNeed.Category, Volts: max(mainsNeed.Volts, volts)}
}

// Unrated reports why an instrument may not go on a rail, or "": its rating does
// not reach what the rail needs, or is not known where it must be.
func Unrated(in capture.InstrumentInfo, r capture.Rail) string {
	need := Need(r)
	if r.Side != capture.Mains {
		return tooHigh(in, r, need.Volts)
	}
	iso := in.Isolation
	what := fmt.Sprintf("%s is on the mains side and needs %s", r.Name, need)
	switch {
	case iso.Port != "isolated":
		return fmt.Sprintf("%s, and %s is not known to be isolated for it", what, in.Name)
	case iso.Category == "":
		return fmt.Sprintf("%s, and %s is not known to be isolated for it: its category is not stated", what, in.Name)
	case !covers(iso.Category, need):
		return fmt.Sprintf("%s, and %s is %s: not isolated for it", what, in.Name, iso.Category)
	case iso.PortVolts == 0:
		return fmt.Sprintf("%s, and how many volts the isolated port of %s is rated for is not stated", what, in.Name)
	case iso.PortVolts < need.Volts:
		return fmt.Sprintf("%s, and the port of %s is isolated for %g V only", what, in.Name, iso.PortVolts)
	case iso.Probe != "" && !covers(iso.Probe, need):
		return fmt.Sprintf("%s, and the probes of %s are %s: not rated for it", what, in.Name, iso.Probe)
	}
	return ""
}

func covers(stated string, need Rating) bool {
	ratings, err := ParseRatings(stated)
	if err != nil {
		return false // what cannot be read is not known
	}
	for _, r := range ratings {
		if r.Covers(need) {
			return true
		}
	}
	return false
}

// tooHigh compares a secondary rail with the volts that are stated. On that side
// the category does not matter, and what is not stated refuses nothing.
func tooHigh(in capture.InstrumentInfo, r capture.Rail, volts float64) string {
	iso := in.Isolation
	for _, stated := range []struct{ what, rating string }{{"", iso.Category}, {"with its probes ", iso.Probe}} {
		ratings, err := ParseRatings(stated.rating)
		if err != nil {
			continue
		}
		if best := highest(ratings); volts > best {
			return fmt.Sprintf("%s has %g V, and %s is %srated for %g V to earth", r.Name, volts, in.Name, stated.what, best)
		}
	}
	if iso.Port == "isolated" && iso.PortVolts > 0 && volts > iso.PortVolts {
		return fmt.Sprintf("%s has %g V, and the port of %s is isolated for %g V", r.Name, volts, in.Name, iso.PortVolts)
	}
	return ""
}

func highest(ratings []Rating) float64 {
	best := 0.0
	for _, r := range ratings {
		best = max(best, r.Volts)
	}
	return best
}
