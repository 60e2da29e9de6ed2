package diagnose

import (
	"slices"
	"testing"

	"steadyrail/capture"
)

func TestShapeOf(t *testing.T) {
	rails, err := capture.ParseRails("+5 2% a, -5 2% b, +12 2% c, -12 2% d")
	if err != nil {
		t.Fatal(err)
	}
	b := Board{Rails: rails}
	name := func(i int) string { return rails[i].Name }
	for _, c := range []struct {
		in, out int
		stated  Shape
		want    Shape
	}{
		{0, 1, "", Inverts}, {2, 1, "", Inverts}, {0, 2, "", StepsUp}, {1, 3, "", StepsUp}, {2, 0, "", StepsDown},
		{3, 1, "", StepsDown}, {2, 0, Isolated, Isolated}, {0, 1, Isolated, Isolated},
	} {
		if got := b.ShapeOf(Converter{In: name(c.in), Out: name(c.out), Shape: c.stated}); got != c.want {
			t.Errorf("%s from %s, stated %q: %s, want %s", name(c.out), name(c.in), c.stated, got, c.want)
		}
	}
}

// A right output speaks for a low input less when the converter needs headroom.
func TestHeadroom(t *testing.T) {
	b := scanner(t)
	sags := Explanation{Faults: []Fault{{"W1", Sags}}}
	right := func(s Shape) float64 {
		b := b
		b.Converters = slices.Clone(b.Converters)
		b.Converters[0].Shape = s
		return b.volts(b.Converters[0].Out, sags.Faults, nil, false)[3]
	}
	if down, other := right(StepsDown), right(Inverts); down >= other || right(StepsUp) != other || right(Isolated) != other {
		t.Errorf("right from a sagging input: stepping down %.3f, inverting %.3f", down, other)
	}
}
