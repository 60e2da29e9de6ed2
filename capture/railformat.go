package capture

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// FormatRails prints rails as a line that [ParseRails] reads back to the same
// rails. It prints what the line can carry: a rail whose name does not begin
// with its voltage ("+5 V"), or with another return than "0 V", loses that, and
// FedFrom and Feeds are never on the line.
func FormatRails(rails []Rail) string {
	parts := make([]string, len(rails))
	for i, r := range rails {
		parts[i] = formatRail(r)
	}
	return strings.Join(parts, ", ")
}

func formatRail(r Rail) string {
	stem := railStem(r.Nominal)
	out := []string{strings.TrimSuffix(stem, " V"), formatAllowance(r)}
	if words, found := strings.CutPrefix(r.Name, stem+" "); found {
		out = append(out, words)
	}
	if r.Target != r.Nominal {
		out = append(out, "target="+plain(r.Target)+"V")
	}
	if r.ShortBelow != DefaultShortBelow {
		out = append(out, "short<"+plain(r.ShortBelow)+"ohm")
	}
	if r.ResetBelow != 0 {
		out = append(out, "reset<"+plain(r.ResetBelow)+"V")
	}
	if r.MinLoad != 0 {
		out = append(out, "load>"+plain(r.MinLoad)+"A")
	}
	if r.Point != "" {
		out = append(out, "at="+r.Point)
	}
	if r.Side != "" {
		out = append(out, "side="+string(r.Side))
	}
	return strings.Join(out, " ")
}

// formatAllowance finds a short way to say the bounds that gives the very
// same bounds when read: percent, volts about the nominal, or the bounds.
func formatAllowance(r Rail) string {
	b := r.Bounds
	if !b.HasLow() && !b.HasHigh() {
		return "?"
	}
	if b.HasLow() && b.HasHigh() {
		for _, try := range []string{percentFor(r, 0, 1), voltsFor(r, 0, 3), percentFor(r, 2, 4), voltsFor(r, 4, 6)} {
			if try != "" {
				return try
			}
		}
	}
	var out []string
	if b.HasLow() {
		out = append(out, ">"+plain(b.Low)+"V")
	}
	if b.HasHigh() {
		out = append(out, "<"+plain(b.High)+"V")
	}
	return strings.Join(out, " ")
}

// percentFor returns the bounds as a percentage with so many decimals, or "".
func percentFor(r Rail, from, upto int) string {
	size := math.Abs(r.Nominal)
	for decimals := from; decimals <= upto; decimals++ {
		share := strconv.FormatFloat(r.Bounds.Width()/2/size*100, 'f', decimals, 64)
		if gives(r, new(big.Rat).Mul(exact(share), big.NewRat(1, 100)), exact(plain(size))) {
			return share + "%"
		}
	}
	return ""
}

// voltsFor returns the bounds as volts about the nominal, or "".
func voltsFor(r Rail, from, upto int) string {
	for decimals := from; decimals <= upto; decimals++ {
		width := strconv.FormatFloat(r.Bounds.Width()/2, 'f', decimals, 64)
		if gives(r, exact(width), big.NewRat(1, 1)) {
			return width + "V"
		}
	}
	return ""
}

// gives reports whether nominal ± a·b, rounded once, are the rail's bounds.
func gives(r Rail, a, b *big.Rat) bool {
	width := new(big.Rat).Mul(a, b)
	nominal := exact(plain(r.Nominal))
	low, _ := new(big.Rat).Sub(nominal, width).Float64()
	high, _ := new(big.Rat).Add(nominal, width).Float64()
	return width.Sign() > 0 && width.Cmp(new(big.Rat).Abs(nominal)) < 0 && low == r.Bounds.Low && high == r.Bounds.High
}

// plain prints the shortest decimal that reads back as v, without an exponent.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func exact(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok { // not finite: gives nothing
		return new(big.Rat)
	}
	return r
}
