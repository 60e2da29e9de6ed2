package formula

import "strings"

// String writes the formula in one form: spaces around + - * /, parentheses
// only where they are needed. Reading it again gives the same formula.
func (e *Expr) String() string {
	var b strings.Builder
	e.write(&b, e.root, 0)
	return b.String()
}

// The ranks of the grammar.
const (
	rankSum = iota
	rankProduct
	rankFactor
)

func rank(p *part) int {
	switch p.sort {
	case '+', '-':
		return rankSum
	case '*', '/':
		return rankProduct
	}
	return rankFactor
}

// write prints a part that must be of at least a rank.
func (e *Expr) write(b *strings.Builder, p *part, least int) {
	own := rank(p)
	if own < least {
		b.WriteByte('(')
		defer b.WriteByte(')')
	}
	switch p.sort {
	case number:
		b.WriteString(p.text)
		if p.unit != "" {
			b.WriteString(" " + p.unit)
		}
	case channel:
		b.WriteString(reference(string(e.channels[p.ref])))
	case minus:
		b.WriteByte('-')
		e.write(b, p.args[0], rankFactor)
	case name:
		b.WriteString(p.text + "(")
		for i, a := range p.args {
			if i > 0 {
				b.WriteString(", ")
			}
			e.write(b, a, rankSum)
		}
		b.WriteByte(')')
	default:
		e.write(b, p.args[0], own)
		b.WriteString(" " + string(rune(p.sort)) + " ")
		e.write(b, p.args[1], own+1)
	}
}

// reference writes a channel, in quotes where it needs them.
func reference(id string) string {
	if bareForm.FindString(id) == id {
		return id
	}
	return `"` + id + `"`
}
