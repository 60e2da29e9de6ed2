package kind

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// Whatever comes and goes, the values stand in order of size and are those of
// the span.
func TestOrderedHoldsWhatItsSpanHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var o ordered
		var at capture.Instant = 1
		var all []capture.Instant
		var values []float64
		span := time.Duration(rapid.IntRange(1, 400).Draw(t, "span")) * time.Millisecond
		for range rapid.IntRange(1, 700).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.IntRange(0, 5).Draw(t, "ms")) * time.Millisecond)
			v := float64(rapid.IntRange(-3, 3).Draw(t, "value"))
			o.add(at, v, span)
			all, values = append(all, at), append(values, v)
		}
		first := max(0, len(all)-windowReadings)
		for at.Sub(all[first]) > span {
			first++
		}
		want := slices.Sorted(slices.Values(values[first:]))
		if got := o.size[:o.n]; !slices.Equal(got, want) {
			t.Fatalf("%d values %v, want %d %v", len(got), got, len(want), want)
		}
		if o.from() != all[first] {
			t.Fatalf("from %d, want %d", o.from(), all[first])
		}
	})
}

// Two searches at once find what the library's finds.
func TestPlacesIsTheLibrarysSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Float64Range(-3, 3), 0, 70).Draw(t, "values")
		slices.Sort(list)
		pick := func(name string) float64 {
			if len(list) > 0 && rapid.Bool().Draw(t, name+" is one of them") {
				return rapid.SampledFrom(list).Draw(t, name)
			}
			return rapid.Float64Range(-4, 4).Draw(t, name)
		}
		v, w := pick("v"), pick("w")
		a, b := places(list, v, w)
		wantA, _ := slices.BinarySearch(list, v)
		if wantB, _ := slices.BinarySearch(list, w); a != wantA || b != wantB {
			t.Fatalf("%v and %v at %d and %d, want %d and %d in %v", v, w, a, b, wantA, wantB, list)
		}
	})
}
