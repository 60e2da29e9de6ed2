package formula

import (
	"slices"

	"steadyrail/capture"
)

// The bounds of a formula.
const (
	MostText  = 500 // bytes
	MostDepth = 24  // parts in parts
	MostParts = 120
	mostArgs  = 8
)

// part is a node of the tree. Its sort is a sign, number, channel, or name for
// a call; 'm' is the minus before one operand.
type part struct {
	sort   sort
	text   string // digits, name of the call
	unit   string
	value  float64 // of a number, base units
	dim    Dim     // of a number
	ref    int     // of a channel: index in Expr.channels
	args   []*part
	offset int
}

const minus sort = 'm'

// Expr is a formula that was read. It never changes.
type Expr struct {
	text     string
	root     *part
	channels []capture.ChannelID
}

// Channels lists the channels of the formula, each once, in the order in which
// they are written.
func (e *Expr) Channels() []capture.ChannelID { return slices.Clone(e.channels) }

// Parse reads a formula. Its errors are of type [*Error].
func Parse(text string) (*Expr, error) {
	list, err := tokens(text)
	if err != nil {
		return nil, err
	}
	p := &parser{expr: &Expr{text: text}, list: list}
	root, err := p.sum(0)
	if err != nil {
		return nil, err
	}
	if t := p.list[0]; t.sort != end {
		return nil, p.unexpected(t, "a sign such as + or * is wanted")
	}
	p.expr.root = root
	return p.expr, nil
}

// parser reads tokens from the front. One token, the end, always stays.
type parser struct {
	expr  *Expr
	list  []token
	parts int
}

func (p *parser) take() token {
	t := p.list[0]
	if t.sort != end {
		p.list = p.list[1:]
	}
	return t
}

func (p *parser) fail(t token, format string, args ...any) error {
	return problem(p.expr.text, t.offset, format, args...)
}

func (p *parser) unexpected(t token, want string) error {
	switch t.sort {
	case end:
		return p.fail(t, "the formula ends here: %s", want)
	case ',':
		return p.fail(t, "%s, not a comma: tenths stand behind a point", want)
	}
	return p.fail(t, "%s, not %q", want, t.text)
}

// node counts a part.
func (p *parser) node(n part) (*part, error) {
	if p.parts++; p.parts > MostParts {
		return nil, problem(p.expr.text, n.offset, "the formula has more than %d parts: split it", MostParts)
	}
	return &n, nil
}

func (p *parser) sum(depth int) (*part, error) { return p.chain(depth, "+-", p.product) }

func (p *parser) product(depth int) (*part, error) { return p.chain(depth, "*/", p.factor) }

// chain reads operands joined by two signs of one rank, from the left.
func (p *parser) chain(depth int, signs string, operand func(int) (*part, error)) (*part, error) {
	left, err := operand(depth)
	for err == nil && (p.list[0].sort == sort(signs[0]) || p.list[0].sort == sort(signs[1])) {
		t := p.take()
		var right *part
		if right, err = operand(depth); err == nil {
			left, err = p.node(part{sort: t.sort, args: []*part{left, right}, offset: t.offset})
		}
	}
	return left, err
}

func (p *parser) factor(depth int) (*part, error) {
	t := p.take()
	if depth++; depth > MostDepth {
		return nil, p.fail(t, "parts nest more than %d deep: split the formula", MostDepth)
	}
	switch t.sort {
	case '-':
		inner, err := p.factor(depth)
		if err != nil {
			return nil, err
		}
		return p.node(part{sort: minus, args: []*part{inner}, offset: t.offset})
	case '(':
		inner, err := p.sum(depth)
		if err != nil {
			return nil, err
		}
		return inner, p.close(t)
	case number:
		v, dim, err := figure(p.expr.text, t)
		if err != nil {
			return nil, err
		}
		return p.node(part{sort: number, text: t.text, unit: t.unit, value: v, dim: dim, offset: t.offset})
	case channel:
		return p.node(part{sort: channel, ref: p.ref(capture.ChannelID(t.text)), offset: t.offset})
	case name:
		return p.call(t, depth)
	}
	return nil, p.unexpected(t, "a number, a channel or a parenthesis is wanted")
}

func (p *parser) close(open token) error {
	switch t := p.take(); t.sort {
	case ')':
		return nil
	case end:
		return p.fail(open, "the parenthesis is not closed")
	default:
		return p.unexpected(t, "a sign or a closing parenthesis is wanted")
	}
}

// ref numbers a channel.
func (p *parser) ref(id capture.ChannelID) int {
	if i := slices.Index(p.expr.channels, id); i >= 0 {
		return i
	}
	p.expr.channels = append(p.expr.channels, id)
	return len(p.expr.channels) - 1
}

// arguments says how many a call takes.
var arguments = map[string][2]int{"abs": {1, 1}, "sqrt": {1, 1}, "min": {2, mostArgs}, "max": {2, mostArgs}}

func (p *parser) call(t token, depth int) (*part, error) {
	many, known := arguments[t.text]
	switch open := p.list[0].sort == '('; {
	case !known && !open:
		return nil, p.fail(t, "%q is no channel: write instrument/input, and in quotes where a name has a minus or a space", t.text)
	case !known:
		return nil, p.fail(t, "%q is not known: there are abs, sqrt, min and max", t.text)
	case !open:
		return nil, p.fail(t, "%s needs parentheses: %s(...)", t.text, t.text)
	}
	open, n := p.take(), part{sort: name, text: t.text, offset: t.offset}
	for {
		arg, err := p.sum(depth)
		if err != nil {
			return nil, err
		}
		n.args = append(n.args, arg)
		if p.list[0].sort != ',' {
			break
		}
		p.take()
	}
	if err := p.close(open); err != nil {
		return nil, err
	}
	if len(n.args) < many[0] || len(n.args) > many[1] {
		return nil, p.fail(t, "%s takes %s, not %d", t.text, howMany(many), len(n.args))
	}
	return p.node(n)
}

func howMany(many [2]int) string {
	if many[1] == 1 {
		return "one argument"
	}
	return "two to eight arguments"
}
