package capture

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// byEye is the instrument of values that were read from a display and typed;
// the meter's name stands before it when it was said.
const byEye = "by eye"

// ByEyeName is how the record names a meter whose display was read: "pocket by
// eye", or "by eye" when nobody said which it was.
func ByEyeName(meter string) string {
	if meter == "" {
		return byEye
	}
	return meter + " " + byEye
}

// ByEyeChannel is the channel that values read by eye are filed under: one for
// each meter, unit and job, for a channel serves one job at a time.
func ByEyeChannel(meter string, q Quantity, job string) ChannelID {
	return ChannelID(ByEyeName(meter) + "/" + q.Unit().Plural() + " " + job)
}

// ByEyeMeter returns the meter behind such a channel, empty when it was not
// said, and whether it is one.
func (c ChannelID) ByEyeMeter() (meter string, ok bool) {
	name := c.Instrument()
	if name == byEye {
		return "", true
	}
	if meter, ok = strings.CutSuffix(name, " "+byEye); !ok {
		return "", false
	}
	return meter, true
}

// Unlikely is why a typed voltage is hardly what a rail has, and what may have
// been meant instead. It is a question to the one who typed, never a verdict.
type Unlikely struct {
	Why   string // "12.07 V is far from +5 V logic and in the band of +12 V audio"
	Rail  int    // number on the sheet, from 1, of the rail that may be meant; 0: none
	Shift int    // power of ten that makes it a value of the rail; 0: none
}

const (
	farHalves   = 3    // half-bands from the middle within which nobody is asked for another rail
	mostTimes   = 3    // times the nominal above which it is taken for a slip
	wrongSign   = -0.1 // times the nominal below which the leads were the wrong way round
	scaleAllows = 0.1  // how near to a thousandth or a thousandfold a slip of the prefix is
)

// Unlikely reports whether a typed voltage, with the resolution that was typed,
// is hardly one of the rail: it lies in another rail's band, has the wrong scale
// or sign, or is far above. A dead rail is never asked about: nothing is what
// it has.
func (s Sheet) Unlikely(r Rail, v, resolution float64) (Unlikely, bool) {
	if r.Nominal == 0 {
		return Unlikely{}, false
	}
	text, times := Volt.Text(v, resolution), v/r.Nominal
	bad := text + " is far from " + r.Name
	if times < wrongSign {
		bad = text + " has the wrong sign for " + r.Name
	}
	if n := s.inBand(r, v); n > 0 {
		return Unlikely{Why: bad + " and in the band of " + s.Rails[n-1].Name, Rail: n}, true
	}
	near := func(share float64) bool { return math.Abs(math.Abs(share)-1) <= scaleAllows }
	switch {
	case near(times*1000) && resolution <= math.Abs(v)/2: // 0.01 V of 10 V has no figure that could be a nominal's
		return Unlikely{Why: text + " is a thousandth of what " + r.Name + " should have", Shift: 3}, true
	case near(times / 1000):
		return Unlikely{Why: fmt.Sprintf("%s is %.3g times the nominal of %s", text, times, r.Name), Shift: -3}, true
	case times > mostTimes:
		return Unlikely{Why: fmt.Sprintf("%s is %.3g times the nominal of %s", text, times, r.Name)}, true
	case times < wrongSign:
		return Unlikely{Why: bad}, true
	}
	return Unlikely{}, false
}

// inBand returns the number of another rail that v is a value of, when it is
// far from being one of r; 0: none.
func (s Sheet) inBand(r Rail, v float64) int {
	off := func(r Rail) float64 {
		middle := r.Nominal
		if !math.IsInf(r.Bounds.Width(), 1) {
			middle = r.Bounds.Low + r.Bounds.Width()/2
		}
		return math.Abs(v-middle) / r.HalfBand()
	}
	if off(r) <= farHalves {
		return 0
	}
	return 1 + slices.IndexFunc(s.Rails, func(o Rail) bool {
		return o.Name != r.Name && (off(o) <= 1 || o.Bounds.HasLow() && o.Bounds.HasHigh() && o.Bounds.Contains(v))
	})
}

// Misspelt is [Nearest] of a word that is none of the known names, case aside.
func Misspelt(word string, known []string) string {
	if slices.ContainsFunc(known, func(k string) bool { return strings.EqualFold(k, word) }) {
		return ""
	}
	return Nearest(word, known)
}

// Nearest returns the known name that a word may be meant for: at most two letters
// off, of half a name at most, case aside. Empty: none.
func Nearest(word string, known []string) string {
	best, least := "", 3
	for _, k := range known {
		if d := LettersOff(strings.ToLower(word), strings.ToLower(k)); d < least && 2*d <= len(k) {
			best, least = k, d
		}
	}
	return best
}

// LettersOff is the number of bytes to insert, drop or change to make b of a
// (Levenshtein 1966). A word of more than 64 bytes is 64 off from everything:
// it is no slip of the finger, and the work grows with its length.
func LettersOff(a, b string) int {
	if len(a) > 64 {
		return 64
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
