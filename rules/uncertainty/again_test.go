package uncertainty

import (
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// TestAgainIsState holds the short way against the long one, over series whose
// value, range, resolution and accuracy list change between readings.
func TestAgainIsState(t *testing.T) {
	lists := [][]capture.Accuracy{nil, {{Range: 10, OfReading: 0.00015}}, {{Range: 10, OfReading: 0.00015, Digits: 2, Resolution: 0.001, PerKelvin: 1e-5}},
		{{Range: 1, OfReading: 0.001}, {Range: 10, OfReading: 0.002}}, {{Range: 10, Resolution: 0.01}}}
	rapid.Check(t, func(t *rapid.T) {
		var before Statement
		for range rapid.IntRange(1, 20).Draw(t, "readings") {
			in := Input{
				Value:      rapid.SampledFrom([]float64{0, 0.5, 5, -5.001, 11.9, 13}).Draw(t, "value"),
				Range:      rapid.SampledFrom([]float64{0, 1, 10, 100}).Draw(t, "range"),
				Resolution: rapid.SampledFrom([]float64{0, 0.001, 0.1}).Draw(t, "resolution"),
				SD:         rapid.SampledFrom([]float64{0, 0.003}).Draw(t, "sd"), Effective: 4, Unit: capture.Volt,
				Accuracy: lists[rapid.IntRange(0, len(lists)-1).Draw(t, "list")],
			}
			got, want := before, State(in)
			got.Again(&in)
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("after %+v:\ngot  %+v\nwant %+v", before, got, want)
			}
			before = got
		}
	})
}
