package formula

import (
	"math"
	"math/big"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// draft is a formula as the tests write it: not the parser's tree.
type draft struct {
	op   string // "+", "-", "*", "/", "neg", a call, "" for a leaf
	leaf string
	of   *big.Rat // value of a number
	in   int      // index of a channel; -1: a number
	args []draft
}

var testChannels = []string{"dmm/volts", "supply/1/volts", `"bench-load/amperes-1"`}

func drawDraft(t *rapid.T, depth int, calls ...string) draft {
	kinds := append([]string{"", "", "+", "-", "*", "/", "neg"}, calls...)
	op := ""
	if depth > 0 {
		op = rapid.SampledFrom(kinds).Draw(t, "op")
	}
	n := map[string]int{"+": 2, "-": 2, "*": 2, "/": 2, "neg": 1, "abs": 1, "sqrt": 1, "min": 2, "max": 3}[op]
	d := draft{op: op, in: -1}
	for range n {
		d.args = append(d.args, drawDraft(t, depth-1, calls...))
	}
	if op != "" {
		return d
	}
	if rapid.Bool().Draw(t, "channel") {
		d.in = rapid.IntRange(0, len(testChannels)-1).Draw(t, "which")
		d.leaf = testChannels[d.in]
		return d
	}
	d.leaf = rapid.SampledFrom([]string{"0", "1", "2", "0.1", "3.25", "1e3", "12.5e-2", "7"}).Draw(t, "number")
	d.of, _ = new(big.Rat).SetString(d.leaf)
	return d
}

// text writes a draft with every parenthesis there can be.
func (d draft) text() string {
	var args []string
	for _, a := range d.args {
		args = append(args, a.text())
	}
	switch {
	case d.op == "":
		return d.leaf
	case d.op == "neg":
		return "(-" + args[0] + ")"
	case len(d.op) == 1:
		return "(" + args[0] + " " + d.op + " " + args[1] + ")"
	}
	return d.op + "(" + strings.Join(args, ", ") + ")"
}

// exact computes a draft in rational numbers; false where it divides by zero.
// most is the largest magnitude that was met, for the tolerance.
func (d draft) exact(in []*big.Rat, most *float64) (*big.Rat, bool) {
	args := make([]*big.Rat, len(d.args))
	for i, a := range d.args {
		v, ok := a.exact(in, most)
		if !ok {
			return nil, false
		}
		args[i] = v
	}
	out := new(big.Rat)
	switch d.op {
	case "":
		if out.Set(d.value(in)); true {
			break
		}
	case "+":
		out.Add(args[0], args[1])
	case "-":
		out.Sub(args[0], args[1])
	case "*":
		out.Mul(args[0], args[1])
	case "/":
		if args[1].Sign() == 0 {
			return nil, false
		}
		out.Quo(args[0], args[1])
	case "neg":
		out.Neg(args[0])
	case "abs":
		out.Abs(args[0])
	case "min":
		out.Set(slices.MinFunc(args, (*big.Rat).Cmp))
	case "max":
		out.Set(slices.MaxFunc(args, (*big.Rat).Cmp))
	}
	v, _ := out.Float64()
	*most = max(*most, math.Abs(v))
	return out, true
}

func (d draft) value(in []*big.Rat) *big.Rat {
	if d.in >= 0 {
		return in[d.in]
	}
	return d.of
}

// benign reports whether no divisor of the draft lies near zero, where floating
// point and rationals part for good reasons.
func (d draft) benign(in []*big.Rat) bool {
	for _, a := range d.args {
		if !a.benign(in) {
			return false
		}
	}
	if d.op != "/" {
		return true
	}
	var most float64
	v, ok := d.args[1].exact(in, &most)
	if !ok {
		return false
	}
	f, _ := v.Float64()
	return math.Abs(f) > 1e-3*max(1, most)
}

// TestEqualsRationals holds the evaluator against exact arithmetic over a tree
// that the parser never saw: 1e-12 of the largest intermediate figure, some
// thousands of roundings of 2^-53.
func TestEqualsRationals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDraft(t, 4, "abs", "min", "max")
		e, err := Parse(d.text())
		if err != nil {
			t.Fatalf("%s: %v", d.text(), err)
		}
		var in []*big.Rat
		for range testChannels {
			in = append(in, big.NewRat(int64(rapid.IntRange(-4000, 4000).Draw(t, "input")), 256))
		}
		inputs := make([]Input, len(e.Channels()))
		for i, id := range e.Channels() {
			k := slices.IndexFunc(testChannels, func(s string) bool { return strings.Trim(s, `"`) == string(id) })
			inputs[i].Value, _ = in[k].Float64()
		}
		most := 1.0
		want, finite := d.exact(in, &most)
		got, err := e.Eval(inputs)
		if !finite && err == nil && d.benign(in) {
			t.Fatalf("%s divides by zero and comes to %v", d.text(), got)
		}
		if !finite || !d.benign(in) {
			return
		}
		w, _ := want.Float64()
		if err != nil || math.Abs(got.Value-w) > 1e-12*most*max(1, most) {
			t.Fatalf("%s: %v, %v; exactly %v", d.text(), got.Value, err, w)
		}
	})
}

// TestSlopes holds the propagated uncertainty against central differences.
func TestSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDraft(t, 3)
		e, _ := Parse(d.text())
		in := make([]Input, len(e.Channels()))
		for i := range in {
			in[i] = Input{Value: float64(rapid.IntRange(3, 400).Draw(t, "input")) / 8, Standard: float64(rapid.IntRange(0, 5).Draw(t, "u"))}
		}
		got, err := e.Eval(in)
		if err != nil {
			return
		}
		sum := 0.0
		for i := range in {
			up, down := slices.Clone(in), slices.Clone(in)
			h := in[i].Value * 1e-5
			up[i].Value += h
			down[i].Value -= h
			a, errA := e.Eval(up)
			b, errB := e.Eval(down)
			if errA != nil || errB != nil || math.Abs(a.Value-got.Value) > 1e-2*math.Abs(got.Value)+1e-2 {
				return // a pole lies near
			}
			sum += math.Pow((a.Value-b.Value)/(2*h)*in[i].Standard, 2)
		}
		if want := math.Sqrt(sum); math.Abs(got.Standard-want) > 1e-3*max(1, want, math.Abs(got.Value)) {
			t.Fatalf("%s at %v: u = %g, by differences %g", d.text(), in, got.Standard, want)
		}
	})
}

func TestPrintedIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e, err := Parse(drawDraft(t, 5, "abs", "sqrt", "min", "max").text())
		if err != nil {
			t.Skip("too large") // more parts than a formula may have
		}
		roundTrip(t, e)
	})
}

func roundTrip(t interface{ Fatalf(string, ...any) }, e *Expr) {
	printed := e.String()
	again, err := Parse(printed)
	if err != nil {
		if len(printed) > MostText {
			return // spaces were added
		}
		t.Fatalf("%q: %v", printed, err)
	}
	if again.String() != printed || !alike(e.root, again.root) || !reflect.DeepEqual(e.channels, again.channels) {
		t.Fatalf("%q is read back as %q", printed, again.String())
	}
}

// alike compares trees, places aside.
func alike(a, b *part) bool {
	if a.sort != b.sort || a.text != b.text || a.unit != b.unit || a.value != b.value || a.ref != b.ref || len(a.args) != len(b.args) {
		return false
	}
	for i := range a.args {
		if !alike(a.args[i], b.args[i]) {
			return false
		}
	}
	return true
}

func drawDim(t *rapid.T, label string) Dim {
	p := rapid.IntRange(-3, 3)
	return Dim{V: p.Draw(t, label+"V"), A: p.Draw(t, label+"A"), S: p.Draw(t, label+"s"), K: p.Draw(t, label+"K")}
}

// TestDimensionsAreAGroup: products commute and associate, a quotient undoes a
// product, a root undoes a square.
func TestDimensionsAreAGroup(t *testing.T) {
	mul := func(a, b Dim, sign int) Dim { d, _ := a.times(b, sign); return d }
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := drawDim(t, "a"), drawDim(t, "b"), drawDim(t, "c")
		square, _ := mul(a, a, 1).root()
		switch {
		case mul(a, b, 1) != mul(b, a, 1), mul(mul(a, b, 1), c, 1) != mul(a, mul(b, c, 1), 1):
			t.Fatal("products depend on their order")
		case mul(mul(a, b, 1), b, -1) != a, mul(a, a, -1) != Dim{}, mul(a, Dim{}, 1) != a:
			t.Fatal("a quotient does not undo a product")
		case square != a:
			t.Fatalf("the root of the square of %s is %s", a, square)
		case a != b && a.String() == b.String():
			t.Fatalf("%+v and %+v are both called %s", a, b, a)
		}
	})
}

// TestUnitsScale: what is checked as W must grow by the product when its parts
// do: a formula that the checker passes is homogeneous.
func TestUnitsScale(t *testing.T) {
	e, _ := Parse("max(supply/volts * supply/amperes, load/watts) + dmm/volts * dmm/volts / dmm/ohms")
	if err := e.CheckUnit(quantities, "W"); err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		v, a := float64(rapid.IntRange(1, 64).Draw(t, "v")), float64(rapid.IntRange(1, 64).Draw(t, "a"))
		scale := map[capture.ChannelID]float64{"supply/volts": v, "dmm/volts": v, "supply/amperes": a, "load/watts": v * a, "dmm/ohms": v / a}
		one, many := make([]Input, len(e.channels)), make([]Input, len(e.channels))
		for i, id := range e.channels {
			one[i].Value = float64(rapid.IntRange(1, 999).Draw(t, "x"))
			many[i].Value = one[i].Value * scale[id]
		}
		x, _ := e.Eval(one)
		y, _ := e.Eval(many)
		if math.Abs(y.Value-x.Value*v*a) > 1e-9*y.Value {
			t.Fatalf("%g times %g W is %g W", v*a, x.Value, y.Value)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"supply/volts * supply/amperes", `("bench-load/amperes-1" - 1.5e-3 A) / -2`, "min(1, max(2 kohm, 3 °C), 4 %)", "((((", "1 V/a/b", "sqrt(abs(-5 K))", "\"a/", "5 \u2126",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		e, err := Parse(text)
		if err != nil {
			if at, ok := err.(*Error); !ok || at.Column < 1 || at.Say == "" {
				t.Fatalf("%q: %v", text, err)
			} else if c := at.Caret(); c != "" && strings.Count(c, "\n") != 1 {
				t.Fatalf("%q: caret %q", text, c)
			}
			return
		}
		roundTrip(t, e)
		in := make([]Input, len(e.channels))
		for i := range in {
			in[i] = Input{Value: float64(i), Resolution: 0.1, Standard: 0.1}
		}
		if r, err := e.Eval(in); err == nil && !(finite(r.Value) && finite(r.Standard) && finite(r.Resolution)) {
			t.Fatalf("%q comes to %+v", text, r)
		}
		_, _ = e.Check(quantities)
	})
}
