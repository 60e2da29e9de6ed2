package rules

import (
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
		if k.Name == "trip" || k.Name == "injection" { // they judge acts: there is no series to draw
			continue
		}
		if len(p.Points) < 40 || len(p.Points) > 150 || p.Spoke <= p.Points[3].At || p.Say == "" {
			t.Errorf("%s: %d points, spoke at %v: %q", k.Name, len(p.Points), p.Spoke, p.Say)
		}
		t.Logf("%s: %s | %s", k.Name, k.Defaults[0].Say, plain(p.Say))
	}
}
