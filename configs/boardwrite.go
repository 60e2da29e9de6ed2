package configs

import (
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/rules/diagnose"
)

// WriteBoard writes a sheet that [ParseBoard] reads back to the same board. What
// a line of rails cannot carry is lost: see [capture.FormatRails].
func WriteBoard(b diagnose.Board) []byte {
	var w sheetWriter
	w.text("# What is known of a board. ohms is what a part has to the return, healthy and\n# cold; see configs/board.yaml for what each list may hold.\n\n")
	if b.Name != "" {
		w.text("board: " + scalar(b.Name) + "\n\n")
	}
	w.text("rails:\n")
	for _, r := range b.Rails {
		w.text("  - " + strconv.Quote(capture.FormatRails([]capture.Rail{r})) + "\n")
	}
	w.list("sources", len(b.Sources), func(i int) []pair {
		return []pair{{"name", b.Sources[i].Name}, {"rail", b.Sources[i].Rail}}
	})
	w.list("converters", len(b.Converters), func(i int) []pair {
		c := b.Converters[i]
		return []pair{{"name", c.Name}, {"in", c.In}, {"out", c.Out}, {"ohms", ohmText(c.Ohms)}, {"in_ohms", ohmText(c.InOhms)}, {"enable", c.Enable}, {"inductor", c.Inductor}, {"kind", string(c.Shape)}}
	})
	w.list("loads", len(b.Loads), func(i int) []pair {
		l := b.Loads[i]
		return []pair{{"name", l.Name}, {"rail", l.Rail}, {"connector", l.Connector}, {"ohms", ohmText(l.Ohms)}}
	})
	w.list("capacitors", len(b.Capacitors), func(i int) []pair {
		return []pair{{"name", b.Capacitors[i].Name}, {"rail", b.Capacitors[i].Rail}}
	})
	w.points(b)
	w.list("healthy", len(b.Healthy), func(i int) []pair {
		h := b.Healthy[i]
		return []pair{{"rail", h.Rail}, {"ohms", ohmText(h.Ohms)}, {"reversed", ohmText(h.Reversed)}, {"source", h.Source}}
	})
	w.list("usual", len(b.Priors), func(i int) []pair {
		p := b.Priors[i]
		return []pair{{"part", p.Part}, {"fault", string(p.Kind)}, {"times", strconv.FormatFloat(p.Times, 'f', -1, 64)}, {"source", p.Source}}
	})
	return []byte(w.String())
}

type pair struct{ key, value string }

type sheetWriter struct{ strings.Builder }

func (w *sheetWriter) text(s string) { w.WriteString(s) }

// list writes items as flow mappings; what is empty was not stated.
func (w *sheetWriter) list(name string, n int, item func(int) []pair) {
	if n == 0 {
		return
	}
	w.text("\n" + name + ":\n")
	for i := range n {
		var parts []string
		for _, p := range item(i) {
			switch {
			case p.value == "":
			case p.key == "times": // a number
				parts = append(parts, p.key+": "+p.value)
			default:
				parts = append(parts, p.key+": "+scalar(p.value))
			}
		}
		w.text("  - {" + strings.Join(parts, ", ") + "}\n")
	}
}

// points leaves distances out where a rail has none.
func (w *sheetWriter) points(b diagnose.Board) {
	far := map[string]float64{}
	for _, p := range b.Points {
		far[p.Rail] = max(far[p.Rail], p.At)
	}
	w.list("points", len(b.Points), func(i int) []pair {
		p := b.Points[i]
		at := ""
		if far[p.Rail] > 0 {
			at = strconv.FormatFloat(p.At, 'f', -1, 64) + " m"
		}
		return []pair{{"name", p.Name}, {"rail", p.Rail}, {"at", at}}
	})
}

func ohmText(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64) + " ohm"
}

// scalar writes a text plainly where YAML reads it back as that text, and
// quoted where it would not.
func scalar(s string) string {
	var back map[string]any
	if err := yaml.Unmarshal(fmt.Appendf(nil, "{a: %s}", s), &back); err == nil && len(back) == 1 && back["a"] == s {
		return s
	}
	return strconv.Quote(s)
}
