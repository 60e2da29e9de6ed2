package drivers

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// handhelds are the shipped models and what the simulated meter then sends.
var handhelds = map[string]string{"stream-ascii": sim.FormLines, "segment-handheld": sim.FormSegments}

// powered is a bench twenty times as fast as the wall, its board under 24 V.
func powered(t *testing.T) *sim.Bench {
	t.Helper()
	b := sim.NewBench(sim.NewClock(capture.Instant(1_700_000_000_000_000), 20), 1, sim.Scenario{})
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	supply := connected(t, shipped(t), Config{Name: "psu", Model: "scpi-supply", Link: b.Links()[sim.Supply], Acts: []string{"output", "limits"}, OnExit: ExitLeave})
	for _, a := range []capture.Act{
		{Verb: capture.ActLimits, Subject: "psu", Text: "volts 24, amperes 1.5, over-voltage 26, over-current 2"},
		{Verb: capture.ActOutput, Subject: "psu", Text: "on"},
	} {
		if _, err := supply.Do(t.Context(), a); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

func handheld(t *testing.T, b *sim.Bench, o sim.HandheldOptions) *sim.Handheld {
	t.Helper()
	h, err := sim.NewHandheld(b, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(h.Close)
	return h
}

// linkOf is the meter's link; a pseudo-terminal has no DTR or RTS.
func linkOf(h *sim.Handheld) string {
	if strings.HasPrefix(h.Link(), "serial:") {
		return h.Link() + "?levels=any"
	}
	return h.Link()
}

// awaits measures until a reading, or the error that came in its place, is as
// wanted. A frame that was under way when something changed comes first.
func awaits(t *testing.T, in Instrument, channel, what string, want func(capture.Reading, error) bool) {
	t.Helper()
	var r capture.Reading
	var err error
	for range 12 {
		if r, err = in.Measure(t.Context(), capture.ChannelID(in.Info().Name+"/"+channel)); want(r, err) {
			return
		}
	}
	t.Errorf("%s: the last of 12 is %+v, %v", what, r, err)
}

// TestHandhelds measures the board with both kinds of meter on real
// pseudo-terminals and on TCP, and does to them all that hands do.
func TestHandhelds(t *testing.T) {
	for model, form := range handhelds {
		for name, tcp := range map[string]bool{"terminal": false, "tcp": true} {
			t.Run(model+" "+name, func(t *testing.T) {
				t.Parallel()
				b := powered(t)
				h := handheld(t, b, sim.HandheldOptions{Form: form, TCP: tcp})
				if err := h.Touch(sim.Point12, capture.Clipped); err != nil {
					t.Fatal(err)
				}
				in := connected(t, shipped(t), Config{Name: "hand", Model: model, Link: linkOf(h)})
				handsOn(t, b, h, in)
			})
		}
	}
}

func handsOn(t *testing.T, b *sim.Bench, h *sim.Handheld, in Instrument) {
	truth, err := b.Truth(sim.Point12)
	if err != nil {
		t.Fatal(err)
	}
	isRail := func(r capture.Reading, err error) bool {
		return err == nil && r.Good() && math.Abs(r.Value-truth) < 0.02*math.Abs(truth)+0.1 && r.Range == 60 && r.Text != ""
	}
	awaits(t, in, "volts", "the rail", isRail)

	if err := h.Dial(sim.DialOhms); err != nil {
		t.Fatal(err)
	}
	awaits(t, in, "volts", "the dial is at ohms", func(r capture.Reading, err error) bool {
		return errors.Is(err, ErrNoChannel) && Flags(err) == capture.Refused && strings.Contains(err.Error(), "the dial is at ohms: turn it to volts")
	})
	h.Lift()
	awaits(t, in, "ohms", "open leads", func(r capture.Reading, err error) bool {
		return err == nil && r.Flags == capture.OverRange && r.Quantity == capture.Resistance && r.Text == ""
	})
	if err := h.Touch(sim.PointShorted, capture.Clipped); err != nil {
		t.Fatal(err)
	}
	awaits(t, in, "ohms", "its leads", func(r capture.Reading, err error) bool {
		return err == nil && r.Good() && r.Value < 1 && r.Range == 600
	})
	if err := errors.Join(h.Dial(sim.DialVolts), h.Touch(sim.Point12, capture.Clipped)); err != nil {
		t.Fatal(err)
	}
	awaits(t, in, "volts", "back at volts", isRail)

	h.Hold(true)
	awaits(t, in, "volts", "held display", func(r capture.Reading, err error) bool {
		return err == nil && r.Flags == capture.Held && !r.Good() && r.HasValue()
	})
	h.Hold(false)
	h.Battery(true)
	awaits(t, in, "volts", "low battery", func(r capture.Reading, err error) bool {
		return err == nil && r.Flags == capture.LowBattery && !r.Good() && r.HasValue() && r.Value > truth
	})
	h.Battery(false)
	for _, kind := range []string{"noise", "cut", "mute"} {
		if err := h.Mischief(kind, 2); err != nil {
			t.Fatal(err)
		}
		for range 4 { // each is the rail or no reading
			if r, err := in.Measure(t.Context(), "hand/volts"); err == nil && r.Good() && !isRail(r, err) {
				t.Errorf("%s: %+v", kind, r)
			}
		}
		awaits(t, in, "volts", kind+" is over", isRail)
	}
	replugged(t, h, in, isRail)
}

// replugged pulls the cable, puts it back, and connects again.
func replugged(t *testing.T, h *sim.Handheld, in Instrument, isRail func(capture.Reading, error) bool) {
	t.Helper()
	h.Unplug()
	awaits(t, in, "volts", "the cable is pulled", func(_ capture.Reading, err error) bool {
		return Flags(err).Has(capture.Disconnected)
	})
	if err := h.Plug(); err != nil {
		t.Fatal(err)
	}
	if err := in.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	awaits(t, in, "volts", "the cable is back", isRail)
}

// TestHandheldBacklog: what came while nobody listened is not read as of now.
func TestHandheldBacklog(t *testing.T) {
	for model, form := range handhelds {
		t.Run(model, func(t *testing.T) {
			t.Parallel()
			b := powered(t)
			h := handheld(t, b, sim.HandheldOptions{Form: form})
			if err := h.Touch(sim.Point12, capture.Clipped); err != nil {
				t.Fatal(err)
			}
			in := connected(t, shipped(t), Config{Name: "hand", Model: model, Link: linkOf(h)})
			before := h.Frames()
			eventually(t, "frames pile up", func() bool { return h.Frames() > before+8 })
			if err := errors.Join(h.Dial(sim.DialOhms), h.Touch(sim.PointShorted, capture.Clipped)); err != nil {
				t.Fatal(err)
			}
			before = h.Frames()
			eventually(t, "the frame of the move is over", func() bool { return h.Frames() > before+2 })
			if r, err := in.Measure(t.Context(), "hand/ohms"); err != nil || r.Value > 1 {
				t.Errorf("an old frame: %+v, %v", r, err)
			}
		})
	}
}

// TestHandheldAsked: a meter that must be asked for each frame.
func TestHandheldAsked(t *testing.T) {
	models := shipped(t)
	m := models["segment-handheld"]
	m.Stream.Ask = []byte("D")
	models["asked"] = m
	b := powered(t)
	h := handheld(t, b, sim.HandheldOptions{Ask: "D"})
	if err := h.Touch(sim.Point12, capture.Clipped); err != nil {
		t.Fatal(err)
	}
	in := connected(t, models, Config{Name: "hand", Model: "asked", Link: linkOf(h)})
	awaits(t, in, "volts", "the rail", func(r capture.Reading, err error) bool { return err == nil && r.Good() && r.Range == 60 })
	if in.Info().Channels[0].Streams {
		t.Error("it does not talk by itself")
	}
	if err := h.Mischief("cut", 1); err != nil {
		t.Fatal(err)
	}
	if _, err := in.Measure(t.Context(), "hand/volts"); !Flags(err).Has(capture.Garbled | capture.TimedOut) {
		t.Errorf("got %v", err)
	}
	awaits(t, in, "volts", "the rail again", func(r capture.Reading, err error) bool { return err == nil && r.Good() && r.Range == 60 })
}

// TestHandheldSilent says what to do.
func TestHandheldSilent(t *testing.T) {
	models := shipped(t)
	m := models["segment-handheld"]
	m.Stream.Listen, m.Line.AnswerTimeout = 200*time.Millisecond, 100*time.Millisecond
	models["segment-handheld"] = m
	h := handheld(t, host(t), sim.HandheldOptions{})
	if err := h.Dial(sim.DialOff); err != nil {
		t.Fatal(err)
	}
	in, err := Open(Config{Name: "hand", Model: "segment-handheld", Link: linkOf(h)}, models)
	if err != nil {
		t.Fatal(err)
	}
	if err := in.Connect(t.Context()); !errors.Is(err, ErrTimeout) || !strings.Contains(err.Error(), "switch the meter on, and its sending") {
		t.Errorf("got %v", err)
	}
}

// TestHandheldFlips lets one bit of each of many frames be wrong. What is read is
// right, refused, or what one bit can do and nobody can see; with agree: 2 it is
// right or refused.
func TestHandheldFlips(t *testing.T) {
	models := shipped(t)
	m := models["segment-handheld"]
	m.Stream.Agree = 2
	models["agree"] = m
	b := powered(t)
	h := handheld(t, b, sim.HandheldOptions{})
	if err := h.Touch(sim.PointReturn, capture.Clipped); err != nil {
		t.Fatal(err)
	}
	in := connected(t, models, Config{Name: "hand", Model: "agree", Link: linkOf(h)})
	h.Hold(true) // the same display again and again
	awaits(t, in, "volts", "it stands still", func(r capture.Reading, err error) bool { return err == nil && r.Flags == capture.Held })
	right, _ := in.Measure(t.Context(), "hand/volts")
	for range 12 {
		if err := h.Mischief("flip", 1); err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if r, err := in.Measure(t.Context(), "hand/volts"); err == nil && r != right {
				t.Errorf("%+v, not %+v", r, right)
			}
		}
	}
}
