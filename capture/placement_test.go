package capture_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestPlacementsAndACorrection(t *testing.T) {
	var p capture.Placements
	on := func(at capture.Instant, ch capture.ChannelID, rail string, corrects capture.Instant) error {
		return p.Apply(at, capture.Placement{Channel: ch, Rail: rail, Corrects: corrects})
	}
	for _, err := range []error{on(10, "dmm/volts", "+5 V", 0), on(20, "dmm/volts", "+12 V", 0), on(25, "dmm2/volts", "+12 V", 0), on(30, "dmm/volts", "", 0)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := on(40, "dmm/volts", "-12 V", 20); err != nil { // it was the other one
		t.Fatal(err)
	}
	for at, want := range map[capture.Instant]string{10: "+5 V", 19: "+5 V", 20: "-12 V", 29: "-12 V", 30: "", 99: ""} {
		if pl, ok := p.At("dmm/volts", at); !ok || pl.Rail != want {
			t.Errorf("at %d on %q, want %q", at, pl.Rail, want)
		}
	}
	if _, ok := p.At("dmm/volts", 9); ok {
		t.Error("placed before it was placed")
	}
	if pl, at, ok := p.Now("dmm/volts"); !ok || at != 30 || pl.Rail != "" {
		t.Errorf("now on %q since %d", pl.Rail, at)
	}
	if _, _, ok := p.Now("dmm3/volts"); ok {
		t.Error("a channel nobody placed")
	}
	spans := p.Spans("+12 V")
	if len(spans) != 1 || spans[0].Channel != "dmm2/volts" || spans[0].From != 25 || spans[0].To != 0 {
		t.Errorf("on +12 V: %+v", spans)
	}
	if spans := p.Spans("-12 V"); len(spans) != 1 || spans[0].From != 20 || spans[0].To != 30 {
		t.Errorf("on -12 V: %+v", spans)
	}
	if err := on(50, "dmm/volts", "+5 V", 21); err == nil {
		t.Error("a correction of nothing was taken")
	}
	if err := on(50, "dmm2/volts", "+5 V", 20); err == nil {
		t.Error("a correction of another channel's placement was taken")
	}
	if chs := p.Channels(); fmt.Sprint(chs) != "[dmm/volts dmm2/volts]" {
		t.Errorf("channels %v", chs)
	}
}

// However placements and corrections come, at every instant the spans of all
// rails hold each placed channel exactly once, and where At says.
func TestSpansAgreeWithAt(t *testing.T) {
	rails := []string{"", "+5 V", "+12 V", "-12 V"}
	channels := []capture.ChannelID{"dmm/volts", "dmm2/volts"}
	rapid.Check(t, func(t *rapid.T) {
		var p capture.Placements
		made := map[capture.ChannelID][]capture.Instant{}
		at := capture.Instant(0)
		for range rapid.IntRange(1, 30).Draw(t, "events") {
			at += capture.Instant(rapid.IntRange(1, 5).Draw(t, "later"))
			ch := rapid.SampledFrom(channels).Draw(t, "channel")
			pl := capture.Placement{Channel: ch, Rail: rapid.SampledFrom(rails).Draw(t, "rail")}
			if len(made[ch]) > 0 && rapid.IntRange(0, 3).Draw(t, "correct") == 0 {
				pl.Corrects = rapid.SampledFrom(made[ch]).Draw(t, "which")
			} else {
				made[ch] = append(made[ch], at)
			}
			if err := p.Apply(at, pl); err != nil {
				t.Fatal(err)
			}
		}
		for i := capture.Instant(0); i <= at+1; i++ {
			for _, ch := range channels {
				pl, ok := p.At(ch, i)
				found := 0
				for _, rail := range rails {
					for _, s := range p.Spans(rail) {
						if s.Channel == ch && s.From <= i && (s.To == 0 || i < s.To) {
							found++
							if pl.Rail != rail {
								t.Fatalf("%s at %d: span on %q, At says %q", ch, i, rail, pl.Rail)
							}
						}
					}
				}
				if want := map[bool]int{true: 1}[ok]; found != want {
					t.Fatalf("%s at %d lies in %d spans, want %d", ch, i, found, want)
				}
			}
		}
	})
}
