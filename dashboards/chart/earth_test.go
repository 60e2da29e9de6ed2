package chart_test

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/dashboards/chart"
)

func TestEarthDrawing(t *testing.T) {
	lows := []chart.Low{
		{Channel: "dmm/volts", Word: "low", Net: "-12 V audio", Tie: "earthed", Shorted: true},
		{Channel: "supply/volts", Word: "minus", Net: "0 V", Tie: "not stated"},
		{Channel: "meter/volts", Word: "low", Net: "0 V", Tie: "isolated"},
	}
	svg := chart.Earth(lows)
	for want, n := range map[string]int{"<circle": 5, "stroke-dasharray": 1, "c-mean out": 1, ">0 V<": 1, ">−12 V audio<": 1, ">earth<": 1, ">meter<": 1, "this shorts it": 1} {
		if got := strings.Count(svg, want); got != n {
			t.Errorf("%q stands %d times, want %d\n%s", want, got, n, svg)
		}
	}
	if chart.Earth(nil) != "" {
		t.Error("a drawing of nothing")
	}
}

// Whatever the nets and instruments are called, the drawing is well formed.
func TestEarthDrawingIsXML(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~]{0,12}`)
		lows := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) chart.Low {
			return chart.Low{Channel: text.Draw(t, "channel"), Word: text.Draw(t, "word"), Net: text.Draw(t, "net"), Earth: rapid.Bool().Draw(t, "earth"),
				Tie: rapid.SampledFrom([]string{"earthed", "isolated", "not stated"}).Draw(t, "tie"), Shorted: rapid.Bool().Draw(t, "shorted")}
		}), 1, 8).Draw(t, "lows")
		d := xml.NewDecoder(strings.NewReader(chart.Earth(lows)))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				return
			} else if err != nil {
				t.Fatal(err)
			}
		}
	})
}
