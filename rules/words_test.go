package rules

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestEveryKindHasAPicture holds that each kind is told of, says what follows
// from a rail, and speaks in its own picture, after the beginning.
func TestEveryKindHasAPicture(t *testing.T) {
	for _, k := range Catalogue([]capture.Rail{five}) {
		if k.About == "" || len(k.Defaults) != 1 || k.Defaults[0].Say == "" {
			t.Errorf("%s is not told of: %+v", k.Name, k.Defaults)
		}
		p := k.Picture
		if len(p.Points) < 40 || len(p.Points) > 150 || p.Spoke <= p.Points[3].At || p.Say == "" {
			t.Errorf("%s: %d points, spoke at %v: %q", k.Name, len(p.Points), p.Spoke, p.Say)
		}
		t.Logf("%s: %s | %s", k.Name, k.Defaults[0].Say, plain(p.Say))
	}
}

// Where a picture has a meter of stated accuracy, its verdict says the uncertainty:
// of a single reading with both sides, of many as an interval.
func TestPicturesWithAccuracySayIt(t *testing.T) {
	for name, want := range map[string]string{"hot": "85.1 °C ± 2.2 °C (k = 2): cannot tell", "unrest": "(8.2 mV to 14 mV), limit 10 mV"} {
		p := picture(name)
		if !strings.Contains(plain(p.Verdict), want) {
			t.Errorf("%s: the verdict is %q, want %q", name, plain(p.Verdict), want)
		}
		if (p.Uncertainty > 0) != (name == "hot") {
			t.Errorf("%s: %g is drawn about the readings", name, p.Uncertainty)
		}
	}
	if p := picture("band"); p.Verdict != "" || p.Uncertainty != 0 {
		t.Errorf("a picture of no stated accuracy: %q, %g", p.Verdict, p.Uncertainty)
	}
}
