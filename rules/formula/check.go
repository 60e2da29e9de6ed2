package formula

import "steadyrail/capture"

// Quantities tells what a channel measures; false where there is no such
// channel.
type Quantities func(capture.ChannelID) (capture.Quantity, bool)

// Check finds the dimension that the formula comes to. Its errors are of type
// [*Error].
func (e *Expr) Check(of Quantities) (Dim, error) { return checker{e, of}.dim(e.root) }

// CheckUnit is Check, held against the unit that the formula must come to.
func (e *Expr) CheckUnit(of Quantities, ascii string) error {
	got, err := e.Check(of)
	if err != nil {
		return err
	}
	if want, _, known := ParseUnit(ascii); !known || got != want {
		return problem(e.text, e.root.offset, "this comes to %s, and the unit says %s", got, orPlain(ascii))
	}
	return nil
}

func orPlain(ascii string) string {
	if ascii == "1" {
		return Dim{}.String()
	}
	return ascii
}

type checker struct {
	expr *Expr
	of   Quantities
}

func (c checker) fail(p *part, format string, args ...any) (Dim, error) {
	return Dim{}, problem(c.expr.text, p.offset, format, args...)
}

func (c checker) dim(p *part) (Dim, error) {
	args := make([]Dim, len(p.args))
	for i, a := range p.args {
		d, err := c.dim(a)
		if err != nil {
			return Dim{}, err
		}
		args[i] = d
	}
	switch p.sort {
	case number:
		return p.dim, nil
	case channel:
		return c.channel(p)
	case '+', '-':
		return c.added(p, args[0], args[1])
	case '*', '/':
		return c.multiplied(p, args[0], args[1])
	case minus:
		if args[0].Point {
			return c.fail(p, "a temperature in degC has no opposite: subtract it from another")
		}
		return args[0], nil
	}
	return c.called(p, args)
}

func (c checker) channel(p *part) (Dim, error) {
	id := c.expr.channels[p.ref]
	if id.Instrument() == capture.FormulaInstrument {
		return c.fail(p, "%s is a formula: a formula is over channels of instruments", id)
	}
	q, known := c.of(id)
	if !known {
		return c.fail(p, "there is no channel %s here; a division sign needs spaces around it, a name with a minus needs quotes", id)
	}
	return DimOf(q), nil
}

// added is the dimension of a sum or a difference.
func (c checker) added(p *part, a, b Dim) (Dim, error) {
	amount := Dim{K: 1}
	switch {
	case a.Point && b.Point && p.sort == '-':
		return amount, nil
	case a.Point && b.Point:
		return c.fail(p, "two temperatures in degC cannot be added: for the mean write a + (b - a) / 2")
	case a.Point && b == amount:
		return a, nil
	case b.Point && a == amount && p.sort == '+':
		return b, nil
	case a != b:
		word := "added to"
		if p.sort == '-' {
			word = "subtracted from"
		}
		return c.fail(p, "%s cannot be %s %s", b, word, a)
	}
	return a, nil
}

func (c checker) multiplied(p *part, a, b Dim) (Dim, error) {
	if a.Point || b.Point {
		return c.fail(p, "a temperature in degC is no amount and has no multiple: subtract another temperature first, which gives K")
	}
	sign := 1
	if p.sort == '/' {
		sign = -1
	}
	d, ok := a.times(b, sign)
	if !ok {
		return c.fail(p, "a power beyond %d is nothing that a bench measures", mostPower)
	}
	return d, nil
}

func (c checker) called(p *part, args []Dim) (Dim, error) {
	switch {
	case p.text == "sqrt" && !args[0].Point:
		if d, ok := args[0].root(); ok {
			return d, nil
		}
		return c.fail(p, "%s has no square root: the powers must be even", args[0])
	case len(args) == 1 && args[0].Point:
		return c.fail(p, "%s of a temperature in degC means nothing: subtract another temperature first", p.text)
	}
	for _, d := range args[1:] {
		if d != args[0] {
			return c.fail(p, "%s compares like with like, not %s with %s", p.text, args[0], d)
		}
	}
	return args[0], nil
}
