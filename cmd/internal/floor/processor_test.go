package floor

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
)

// differs are the functions of the library whose last digit depends on the
// processor, for they are written in assembly on some and fused on others, and
// those that only come with them. A judgement must be the same on every one:
// capture/elementary has the exponential, the logarithm and the power, capture.Decade the
// power of ten of a figure, and an explicit square root stands for math.Hypot.
var differs = []string{
	"Log10", "Pow10", "Pow", "Exp", "Log", "Hypot", "FMA", "Exp2", "Expm1", "Log2", "Log1p", "Sinh", "Cosh", "Tanh", "Asinh", "Acosh", "Atanh",
	"Sin", "Cos", "Tan", "Sincos", "Asin", "Acos", "Atan", "Atan2", "Cbrt", "Gamma", "Lgamma", "Erf", "Erfc", "Erfinv", "Erfcinv", "J0", "J1", "Jn", "Y0", "Y1", "Yn",
}

// still says which judgement, or what of the record, may use one of them all the same,
// and why.
var still = map[string]string{
	"capture/decade.go Pow10":          "a whole power of ten is looked up in a table of the library, and its exponent is read from digits",
	"capture/number.go Pow10":          "likewise",
	"capture/rail.go Pow10":            "likewise",
	"capture/quick.go Pow10":           "a power of ten that float64 holds exactly",
	"capture/table/unit.go Pow10":      "a whole power of ten, by the prefix of a unit",
	"rules/kind/figure.go Pow10":       "a whole power of ten is looked up in a table of the library, and its exponent is read from digits",
	"rules/trend/kendall.go Erfc":      "the p of a test, which is rounded to a ten thousandth before anything is said of it",
	"rules/trend/tolerance.go Erfc":    "the factor that comes of it is rounded to four digits",
	"rules/trend/tolerance.go Lgamma":  "likewise",
	"rules/uncertainty/spread.go Erfc": "a probability of conformance, which is printed with two digits and decides nothing",
	"rules/diagnose/bayes.go Erfc":     "shares of cells of a prior: candidates are ranked, and told apart by far more than a last digit",
}

func TestJudgementIsTheSameOnEveryProcessor(t *testing.T) {
	used := map[string]bool{}
	for _, p := range list(t) {
		room, _ := ours(p.ImportPath)
		if top, _, _ := strings.Cut(room, "/"); top != "rules" && top != "capture" {
			continue
		}
		for _, name := range p.GoFiles {
			for _, f := range processorBound(t, filepath.Join(p.Dir, name)) {
				at := room + "/" + name + " " + f
				used[at] = true
				if still[at] == "" {
					t.Errorf("%s/%s uses math.%s, whose last digit depends on the processor: take that of capture/elementary, or capture.Decade", room, name, f)
				}
			}
		}
	}
	for at := range still {
		if !used[at] {
			t.Errorf("%s is not used any more: strike it off the list", at)
		}
	}
}

// processorBound lists such functions in a file.
func processorBound(t *testing.T, path string) (out []string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, named := sel.X.(*ast.Ident); !named || x.Name != "math" {
			return true
		}
		for _, f := range differs {
			if sel.Sel.Name == f {
				out = append(out, f)
			}
		}
		return true
	})
	return out
}

// The search finds what it is to find, so that a clean house is one.
func TestProcessorBoundIsFound(t *testing.T) {
	if got := strings.Join(processorBound(t, filepath.Join("testdata", "bound.go")), " "); got != "Exp Pow" {
		t.Errorf("found %q", got)
	}
}
