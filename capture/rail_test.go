package capture_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestBoundsAsJSON(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		b    capture.Bounds
		want string
	}{
		{capture.Bounds{Low: 4.9, High: 5.1}, `{"low":4.9,"high":5.1}`},
		{capture.Bounds{Low: -inf, High: 5.25}, `{"low":null,"high":5.25}`},
		{capture.Bounds{Low: 0, High: inf}, `{"low":0,"high":null}`},
		{capture.NoBounds(), `{"low":null,"high":null}`},
	} {
		got, err := json.Marshal(c.b)
		if err != nil || string(got) != c.want {
			t.Errorf("%v became %s, %v; want %s", c.b, got, err, c.want)
		}
		var back capture.Bounds
		if err := json.Unmarshal(got, &back); err != nil || back != c.b {
			t.Errorf("%s came back as %v, %v", got, back, err)
		}
	}
	var b capture.Bounds
	if err := json.Unmarshal([]byte(`{"low":"x"}`), &b); err == nil {
		t.Error("a word was taken for a bound")
	}
}

func TestBoundsContainAndEdge(t *testing.T) {
	b := capture.Bounds{Low: 4.9, High: 5.1}
	for v, want := range map[float64]bool{4.9: true, 5: true, 5.1: true, 4.8999: false, 5.1001: false, math.NaN(): false, math.Inf(1): false} {
		if b.Contains(v) != want {
			t.Errorf("contains %g: %v", v, !want)
		}
	}
	for v, want := range map[float64]float64{4.91: 4.9, 5.09: 5.1, 3: 4.9, 9: 5.1} {
		if e, ok := b.Edge(v); !ok || e != want {
			t.Errorf("edge nearest to %g: %g, %v", v, e, ok)
		}
	}
	if e, ok := (capture.Bounds{Low: math.Inf(-1), High: 5.25}).Edge(-40); !ok || e != 5.25 {
		t.Errorf("the only edge: %g, %v", e, ok)
	}
	if _, ok := capture.NoBounds().Edge(5); ok {
		t.Error("open bounds have an edge")
	}
}

// By magnitude, a negative rail is judged like its mirror image.
func TestSizedMirrorsNegativeRails(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-20, 20).Draw(t, "v")
		positive := capture.Rail{Nominal: 12, Target: 12.1, Bounds: capture.Bounds{Low: 11.4, High: 12.6}}
		negative := capture.Rail{Nominal: -12, Target: -12.1, Bounds: capture.Bounds{Low: -12.6, High: -11.4}}
		if a, b := positive.Sized(v), negative.Sized(-v); a != b {
			t.Fatalf("%+v and %+v", a, b)
		}
		if positive.Bounds.Contains(v) != negative.Sized(-v).Bounds.Contains(negative.Sized(-v).Value) {
			t.Fatalf("%g is inside one way only", v)
		}
	})
}

func TestRailValidate(t *testing.T) {
	good := capture.Rail{Name: "+5 V", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for says, spoil := range map[string]func(*capture.Rail){
		"needs a name":        func(r *capture.Rail) { r.Name = "" },
		"nominal":             func(r *capture.Rail) { r.Nominal = 0 },
		"target must":         func(r *capture.Rail) { r.Target = math.NaN() },
		"low bound":           func(r *capture.Rail) { r.Bounds.Low = 6 },
		"outside its own":     func(r *capture.Rail) { r.Target = 5.2 },
		"short_below":         func(r *capture.Rail) { r.ShortBelow = -1 },
		"reset_below":         func(r *capture.Rail) { r.ResetBelow = math.Inf(1) },
		"mains or secondary":  func(r *capture.Rail) { r.Side = "left" },
		"must lie below":      func(r *capture.Rail) { r.Bounds.High = math.NaN() },
		"other than zero":     func(r *capture.Rail) { r.Nominal = math.Inf(1) },
		"4.9 to 5.1 V":        func(r *capture.Rail) { r.Target = 4 },
		"+5 V: target 4 V":    func(r *capture.Rail) { r.Target = 4 },
		"a resistance, zero ": func(r *capture.Rail) { r.ShortBelow = math.NaN() },
	} {
		r := good
		spoil(&r)
		if err := r.Validate(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("want a refusal with %q, got %v", says, err)
		}
	}
}

func TestHalfBand(t *testing.T) {
	if got := (capture.Rail{Nominal: -12, Bounds: capture.Bounds{Low: -12.6, High: -11.4}}).HalfBand(); math.Abs(got-0.6) > 1e-12 {
		t.Errorf("half of 1.2 V is %g", got)
	}
	if got := (capture.Rail{Nominal: -12, Bounds: capture.NoBounds()}).HalfBand(); got != 1.2 {
		t.Errorf("an open rail is drawn with %g", got)
	}
}
