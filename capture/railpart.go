package capture

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// railPart is one part of the line while it is read.
type railPart struct {
	mark     DecimalMark
	rail     Rail
	nominal  *big.Rat
	low      *big.Rat // nil: open
	high     *big.Rat
	declared string // the tokens that gave low and high
	words    []string
}

func parseRail(text string, mark DecimalMark) (Rail, error) {
	tokens := joinTokens(strings.Fields(text))
	if len(tokens) == 0 {
		return Rail{}, errors.New("nothing between two separators; " + railsExample)
	}
	p := railPart{mark: mark}
	if err := p.begin(tokens[0]); err != nil {
		return Rail{}, err
	}
	for _, token := range tokens[1:] {
		if err := p.take(token); err != nil {
			return Rail{}, err
		}
	}
	return p.finish()
}

// begin reads the nominal voltage.
func (p *railPart) begin(token string) error {
	volts, err := p.volts(token)
	if err != nil {
		return fmt.Errorf("begin with the nominal voltage; %s", railsExample)
	}
	if volts.Sign() == 0 {
		return errors.New("a rail of 0 V is a return, not a rail")
	}
	v, _ := volts.Float64()
	if v > highestVolts || v < -highestVolts {
		return errors.New("no board has such a voltage")
	}
	p.nominal = volts
	p.rail = Rail{Nominal: v, Target: v, Return: defaultReturn, ShortBelow: DefaultShortBelow}
	return nil
}

// take reads one token behind the nominal.
func (p *railPart) take(token string) error {
	body := strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(token, "±"), "+-"), "+/-")
	switch {
	case body == "":
		return fmt.Errorf("%s is neither an allowance nor a word; %s", token, railsExample)
	case token == "?":
		return p.declare(token, nil, nil)
	case token[0] == '<' || token[0] == '>':
		return p.bound(token)
	case strings.HasSuffix(token, "%"):
		return p.percent(token, strings.TrimSuffix(body, "%"))
	case strings.ContainsAny(token, "<>="):
		return p.option(token)
	}
	if volts, err := p.volts(body); err == nil && p.declared == "" && endsInVolt(body) {
		return p.around(token, volts)
	}
	if len(p.words) == 0 && (isDigit(body[0]) || body[0] == '-' || body[0] == '+' || body != token) {
		return fmt.Errorf("what is %s? Write the allowance as 2%% or %s, and then words", token, p.mark.Write("0.1V"))
	}
	if strings.Contains(token, ",") {
		return fmt.Errorf("the word %s has a comma in it", token)
	}
	p.words = append(p.words, token)
	return nil
}

// declare keeps the allowance and refuses a second one.
func (p *railPart) declare(token string, low, high *big.Rat) error {
	if p.declared != "" {
		return fmt.Errorf("two allowances, %s and %s: keep one", p.declared, token)
	}
	p.declared, p.low, p.high = token, low, high
	return nil
}

func (p *railPart) percent(token, digits string) error {
	d, rest, err := typedDecimal(digits, p.mark)
	if err != nil || rest != "" || digits[0] == '+' {
		return fmt.Errorf("%s is not a percentage; write such as 2%%", token)
	}
	share := d.rat(-2)
	if share.Sign() <= 0 || share.Cmp(big.NewRat(1, 1)) >= 0 {
		return fmt.Errorf("an allowance of %s: it lies above 0%% and below 100%%", token)
	}
	return p.around(token, share.Mul(share, new(big.Rat).Abs(p.nominal)))
}

func (p *railPart) around(token string, width *big.Rat) error {
	if width.Sign() <= 0 || width.Cmp(new(big.Rat).Abs(p.nominal)) >= 0 {
		return fmt.Errorf("an allowance of %s: it is more than nothing and less than the nominal", token)
	}
	return p.declare(token, new(big.Rat).Sub(p.nominal, width), new(big.Rat).Add(p.nominal, width))
}

// bound reads ">4.75V" or "<5.25V"; one of each may stand.
func (p *railPart) bound(token string) error {
	volts, err := p.volts(strings.TrimPrefix(token[1:], "="))
	if err != nil {
		return fmt.Errorf("%s is not a bound; write such as %s", token, p.mark.Write(">4.75V"))
	}
	side := &p.low
	if token[0] == '<' {
		side = &p.high
	}
	if *side != nil || p.declared == "?" {
		return p.declare(token, nil, nil) // refuses: it is the second
	}
	*side = volts
	p.declared = strings.TrimSpace(p.declared + " " + token)
	return nil
}

func (p *railPart) option(token string) error {
	at := strings.IndexAny(token, "<>=")
	key, value := token[:at+1], token[at+1:]
	number := func(field *float64, u Unit) error {
		v, _, err := u.ParseTyped(value, p.mark)
		if err != nil || (v < 0 && u != Volt) {
			return fmt.Errorf("%s: %s", token, u.example())
		}
		*field = v
		return nil
	}
	switch key {
	case "target=":
		return number(&p.rail.Target, Volt)
	case "short<":
		return number(&p.rail.ShortBelow, Ohm)
	case "reset<":
		return number(&p.rail.ResetBelow, Volt)
	case "load>":
		return number(&p.rail.MinLoad, Ampere)
	case "at=":
		if value == "" || strings.Contains(value, ",") {
			return fmt.Errorf("%s: write a test point such as at=TP5", token)
		}
		p.rail.Point = value
		return nil
	case "side=":
		p.rail.Side = Side(value)
		return nil
	}
	return fmt.Errorf("unknown option %s: there are target=, short<, reset<, load>, at=, side=", token)
}

// finish names the rail, computes its bounds and checks the whole.
func (p *railPart) finish() (Rail, error) {
	if p.declared == "" {
		return Rail{}, fmt.Errorf("how far may it be off? Add such as 2%% or %s, or ? when nobody knows", p.mark.Write("0.1V"))
	}
	r := p.rail
	r.Bounds = NoBounds()
	if p.low != nil {
		r.Bounds.Low, _ = p.low.Float64()
	}
	if p.high != nil {
		r.Bounds.High, _ = p.high.Float64()
	}
	r.Name = strings.Join(append([]string{railStem(r.Nominal)}, p.words...), " ")
	if len(r.Name) > longestName {
		return Rail{}, fmt.Errorf("the name is longer than %d characters", longestName)
	}
	if err := r.Validate(); err != nil {
		return Rail{}, fmt.Errorf("%w (bounds keep their sign: -12 >-12.6V <-11.4V)", err)
	}
	return r, nil
}

// volts reads a voltage, with or without its unit, exactly.
func (p *railPart) volts(token string) (*big.Rat, error) {
	d, suffix, err := typedDecimal(token, p.mark)
	if err != nil {
		return nil, err
	}
	shift, err := Volt.typedShift(token, suffix)
	if err != nil {
		return nil, err
	}
	if _, _, ok := d.scaled(shift); !ok {
		return nil, refuse(token, "beyond anything a bench measures")
	}
	return d.rat(shift), nil
}

func endsInVolt(token string) bool { return strings.HasSuffix(strings.ToUpper(token), "V") }

// railStem is what a rail's name begins with: "+5 V", "-12 V".
func railStem(nominal float64) string {
	s := strconv.FormatFloat(nominal, 'f', -1, 64)
	if nominal > 0 {
		s = "+" + s
	}
	return s + " V"
}

// joinTokens puts back together what a space parted: "2 %", "+5 V", "> 4.75 V",
// "short < 1 ohm".
func joinTokens(fields []string) []string {
	var out []string
	for _, f := range fields {
		if n := len(out); n > 0 && belongs(out[n-1], f) {
			out[n-1] += f
			continue
		}
		out = append(out, f)
	}
	return out
}

func belongs(before, f string) bool {
	last := before[len(before)-1]
	inOption := strings.ContainsAny(before, "<>=")
	switch f {
	case "%", "V", "mV", "kV":
		return isDigit(last)
	case "ohm", "mohm", "kohm", "Ω", "mΩ", "kΩ", "A", "mA":
		return isDigit(last) && inOption
	}
	switch before {
	case "±", "+-", "+/-":
		return true
	case "target", "short", "reset", "load", "at", "side":
		return f[0] == '<' || f[0] == '>' || f[0] == '='
	}
	return last == '<' || last == '>' || last == '='
}
