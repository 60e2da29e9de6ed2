package scpi

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// The oddities that the driver knows, as model files name them.
const (
	NoErrorQueue    = "no-error-queue"    // SYST:ERR? is not asked: acts are confirmed by reading back alone
	NoClear         = "no-cls"            // *CLS is not sent
	AnswersWithUnit = "answers-with-unit" // "5.012E+00 VDC": the unit is checked and cut off
	CommaList       = "comma-list"        // the first of several answers between commas counts
)

// Quirks lists the oddities that the driver knows.
func Quirks() []string { return []string{NoErrorQueue, NoClear, AnswersWithUnit, CommaList} }

// has reports whether the instrument is odd in this way.
func (p *Plan) has(quirk string) bool { return slices.Contains(p.Quirks, quirk) }

// number reads one number of an answer to phrase, as the instrument's oddities
// have it. One that cannot be read puts the driver in doubt.
func (d *Driver) number(phrase, answer string, q capture.Quantity, unit capture.Unit) (v, resolution float64, flags capture.Flags, text string, err error) {
	if text, err = unblock(strings.TrimSpace(answer)); err != nil {
		d.doubt = fmt.Errorf("%s: %w", phrase, err)
		return 0, 0, 0, "", d.doubt
	}
	text = strings.TrimSpace(text)
	if d.plan.has(CommaList) {
		text, _, _ = strings.Cut(text, ",")
		text = strings.TrimSpace(text)
	}
	if d.plan.has(AnswersWithUnit) {
		var ok bool
		if text, ok = withoutUnit(text, q, unit); !ok {
			d.doubt = session.Malformed(phrase, answer, "one number in "+unit.ASCII())
			return 0, 0, 0, "", d.doubt
		}
	}
	if v, resolution, flags, err = capture.ParseResponse(text); err != nil {
		d.doubt = session.Malformed(phrase, answer, "one number")
		return 0, 0, 0, "", d.doubt
	}
	return v, resolution, flags, text, nil
}

// measured is a number with the unit behind it. The second group is a prefix,
// the third a unit, the fourth what kind of voltage or current it is.
var measured = regexp.MustCompile(`^([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[Ee][+-]?[0-9]+)?)\s*([munpkKMG]?)(V|A|W|F|OHM|Ohm|ohm|OHMS|HZ|Hz|C|CEL|DEGC|S|s)\s*(DC|AC|dc|ac)?$`)

var unitNames = map[string]capture.Unit{
	"V": capture.Volt, "A": capture.Ampere, "W": capture.Watt, "F": capture.Farad, "OHM": capture.Ohm, "OHMS": capture.Ohm,
	"HZ": capture.Hertz, "C": capture.Celsius, "CEL": capture.Celsius, "DEGC": capture.Celsius, "S": capture.Second,
}

var prefixes = map[string]string{"": "", "p": "E-12", "n": "E-9", "u": "E-6", "m": "E-3", "k": "E3", "K": "E3", "M": "E6", "G": "E9"}

// withoutUnit returns the number of an answer in the base unit, when its unit
// is the one that is due. What stands for no number is returned as it is; a
// number without unit is refused, for the others have one.
func withoutUnit(text string, q capture.Quantity, unit capture.Unit) (string, bool) {
	part := measured.FindStringSubmatch(text)
	if part == nil {
		_, _, flags, err := capture.ParseResponse(text)
		return text, err == nil && flags != 0
	}
	if unitNames[strings.ToUpper(part[3])] != unit {
		return "", false
	}
	kind := strings.ToUpper(part[4])
	direct := q == capture.DCVoltage || q == capture.DCCurrent
	alternating := q == capture.ACVoltage || q == capture.ACCurrent
	if kind == "DC" && alternating || kind == "AC" && direct {
		return "", false
	}
	if part[2] != "" && strings.ContainsAny(part[1], "Ee") {
		return "", false // 5.0E-3 mV: nobody knows what was meant
	}
	if part[2] == "M" && unit != capture.Ohm && unit != capture.Hertz {
		return "", false // MV may be milli or mega
	}
	return part[1] + prefixes[part[2]], true
}

// Identity is how an instrument is asked who it is. The zero value is *IDN?.
type Identity struct {
	None    bool           // it cannot be asked: it is known by its adapter or socket
	Ask     string         // empty: *IDN?
	Pattern *regexp.Regexp // of the answer to Ask, see [IdentityPattern]
}

// IdentityPattern compiles how an answer shows who sent it: a regular
// expression with groups named maker, model, serial and firmware, model or
// serial at least. It must fit the whole answer.
func IdentityPattern(text string) (*regexp.Regexp, error) {
	p, err := regexp.Compile(`^(?:` + text + `)$`)
	if err != nil {
		return nil, fmt.Errorf("%q is no regular expression: %w", text, err)
	}
	known := []string{"maker", "model", "serial", "firmware"}
	for _, name := range p.SubexpNames() {
		if name != "" && !slices.Contains(known, name) {
			return nil, fmt.Errorf("group %q means nothing: use %s", name, strings.Join(known, ", "))
		}
	}
	if p.SubexpIndex("model") < 0 && p.SubexpIndex("serial") < 0 {
		return nil, fmt.Errorf("%q has no group named model or serial, such as (?P<model>[A-Z0-9]+)", text)
	}
	return p, nil
}

// parse reads who answered.
func (i Identity) parse(answer string) (capture.Identity, error) {
	if i.Ask == "" {
		return ParseIdentity(answer)
	}
	found := i.Pattern.FindStringSubmatch(strings.TrimSpace(answer))
	if found == nil {
		return capture.Identity{}, session.Malformed(i.Ask, answer, "what fits "+i.Pattern.String())
	}
	group := func(name string) string {
		if at := i.Pattern.SubexpIndex(name); at >= 0 {
			return strings.TrimSpace(found[at])
		}
		return ""
	}
	id := capture.Identity{Maker: group("maker"), Model: group("model"), Serial: group("serial"), Firmware: group("firmware")}
	if id.Model == "" && id.Serial == "" {
		return capture.Identity{}, session.Malformed(i.Ask, answer, "a model or a serial number")
	}
	return id, nil
}
