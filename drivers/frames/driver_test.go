package frames

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// far is a link whose far end sent these bytes, read in such pieces. Behind them
// nothing comes.
type far struct {
	pieces  [][]byte
	buffer  []byte
	asked   []string // what was sent; "~" for a drain
	answers [][]byte // one for each request
	where   wire.Whereabouts
	closed  bool
}

func (f *far) Exchange(_ context.Context, request []byte, split wire.Split) ([]byte, error) {
	if len(request) > 0 {
		f.asked = append(f.asked, string(request))
		if len(f.answers) == 0 {
			return nil, wire.ErrTimeout
		}
		f.pieces, f.answers = f.answers[:1], f.answers[1:]
	}
	for {
		skip, length := split(f.buffer)
		f.buffer = f.buffer[skip:]
		if length > 0 {
			frame := f.buffer[:length:length]
			f.buffer = f.buffer[length:]
			return frame, nil
		}
		if len(f.pieces) == 0 {
			return nil, wire.ErrTimeout
		}
		f.buffer = append(f.buffer, f.pieces[0]...)
		f.pieces = f.pieces[1:]
	}
}

func (f *far) Query(context.Context, string) (string, error) {
	return "", errors.New("not of this link")
}
func (f *far) Send(context.Context, string) error { return errors.New("not of this link") }
func (f *far) Drain(context.Context) error        { f.asked = append(f.asked, "~"); return nil }
func (f *far) Close() error                       { f.closed = true; return nil }
func (f *far) Whereabouts() wire.Whereabouts      { return f.where }

func segmentPlan() Plan {
	channel := func(name capture.ChannelID, q capture.Quantity) Channel {
		return Channel{Info: capture.ChannelInfo{ID: name, Quantity: q, Every: 300 * time.Millisecond, Accuracy: []capture.Accuracy{{Range: 4, Resolution: 0.001}}}}
	}
	return Plan{Segments: celsius, Listen: time.Second, Channels: []Channel{channel("volts", capture.DCVoltage), channel("ohms", capture.Resistance)}}
}

func connected(t *testing.T, p Plan, f *far) *Driver {
	t.Helper()
	f.where.Path = "pci-1/usb-2"
	d, err := New(Options{Info: capture.InstrumentInfo{Name: "hand"}, Plan: p, Baud: 2400, Dial: func(context.Context) (wire.Link, error) { return f, nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	return d
}

func volts(text string) []byte { return draw(text, lampDC, lampVolt) }

func TestDial(t *testing.T) {
	f := &far{pieces: [][]byte{volts("1.000"), volts("2.000"), draw("100.0", lampOhm), draw("100.1", lampOhm), volts("3.000"), draw("50.00", lampHertz)}}
	d := connected(t, segmentPlan(), f)
	info := d.Info()
	if info.Identity.Source != "path" || info.Identity.Serial != "pci-1/usb-2" {
		t.Errorf("identity %+v", info.Identity)
	}
	for _, c := range info.Channels {
		if !c.Streams || c.Group != dial {
			t.Errorf("%+v", c)
		}
	}
	r, err := d.Measure(t.Context(), "hand/volts")
	if err != nil || r.Value != 2 || r.Channel != "hand/volts" || r.Quantity != capture.DCVoltage || r.Range != 4 || r.Text != "2.000" {
		t.Fatalf("%+v, %v", r, err)
	}
	if got := d.Transfer(6); got.Round(time.Millisecond) != 58*time.Millisecond { // 14 bytes of 10 bits
		t.Errorf("on the line for %v", got)
	}
	r, err = d.Measure(t.Context(), "hand/volts")
	if !errors.Is(err, ErrNoChannel) || !strings.Contains(err.Error(), "the dial is at ohms: turn it to volts") || r != (capture.Reading{}) {
		t.Fatalf("the dial was turned: %+v, %v", r, err)
	}
	if err := d.Select(t.Context(), "hand/ohms"); err != nil {
		t.Fatal(err)
	}
	if r, err = d.Measure(t.Context(), "hand/ohms"); err != nil || r.Value != 100.1 || r.Quantity != capture.Resistance {
		t.Fatalf("%+v, %v", r, err)
	}
	if _, err = d.Measure(t.Context(), "hand/ohms"); !errors.Is(err, ErrNoChannel) || f.closed {
		t.Fatalf("%v", err)
	}
	if _, err = d.Measure(t.Context(), "hand/volts"); !errors.Is(err, ErrNoChannel) || !strings.Contains(err.Error(), "at frequency, which the model has no channel for") {
		t.Fatalf("%v", err)
	}
	if _, err = d.Measure(t.Context(), "hand/ohms"); !errors.Is(err, wire.ErrTimeout) {
		t.Fatalf("nothing comes any more: %v", err)
	}
	if _, err = d.Measure(t.Context(), "hand/farads"); !errors.Is(err, ErrNoChannel) {
		t.Fatal(err)
	}
	if _, err := d.Do(t.Context(), capture.Act{Verb: capture.ActOutput}); !errors.Is(err, ErrNotAllowed) {
		t.Fatal(err)
	}
	if err := d.Close(); err != nil || !f.closed {
		t.Fatal(err)
	}
	if _, err = d.Measure(t.Context(), "hand/volts"); !errors.Is(err, ErrNotConnected) {
		t.Fatal(err)
	}
}

// TestBacklog: frames of the past are not taken for the present.
func TestBacklog(t *testing.T) {
	old := append(append(volts("1.000"), volts("1.001")...), volts("1.002")...)
	for name, behind := range map[string][][]byte{
		"whole":  {volts("5.000")},
		"in two": {volts("5.000")[:5], volts("5.000")[5:]},
	} {
		f := &far{pieces: append([][]byte{volts("0.000"), old}, behind...)}
		d := connected(t, segmentPlan(), f)
		if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != 5 {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

func TestDamageIsToldAndOver(t *testing.T) {
	broken := volts("5.000")
	broken[2] &^= 8
	f := &far{pieces: [][]byte{volts("0.000"), broken, {0xff, 0x13}, volts("5.001")[3:], volts("5.002")}}
	d := connected(t, segmentPlan(), f)
	if _, err := d.Measure(t.Context(), "hand/volts"); !errors.Is(err, ErrMalformed) || !strings.Contains(err.Error(), "hand: measure volts") {
		t.Fatal(err)
	}
	if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != 5.002 {
		t.Fatalf("%+v, %v", r, err)
	}
	if d.Resyncs() == 0 {
		t.Error("it was not counted")
	}
}

func TestAgree(t *testing.T) {
	plan := segmentPlan()
	plan.Agree = 2
	f := &far{pieces: [][]byte{volts("5.000"), volts("8.000"), volts("0.000"), volts("8.000"), volts("8.000"), volts("8.000"), volts("9.000")}}
	d := connected(t, plan, f)
	for range 2 {
		if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != 8 {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	if r, err := d.Measure(t.Context(), "hand/volts"); !errors.Is(err, wire.ErrTimeout) {
		t.Fatalf("a frame alone: %+v, %v", r, err)
	}
	var moving [][]byte
	for i := range 20 {
		moving = append(moving, volts(fmt.Sprintf("1.0%02d", i)))
	}
	d = connected(t, plan, &far{pieces: append([][]byte{volts("0.000")}, moving...)})
	if _, err := d.Measure(t.Context(), "hand/volts"); !errors.Is(err, ErrMalformed) || !strings.Contains(err.Error(), "the reading moves") {
		t.Fatal(err)
	}
}

func TestAsk(t *testing.T) {
	plan := segmentPlan()
	plan.Ask = []byte("D")
	f := &far{answers: [][]byte{volts("1.000"), volts("2.000")}}
	d := connected(t, plan, f)
	if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != 2 || d.Info().Channels[0].Streams {
		t.Fatalf("%+v, %v", r, err)
	}
	if _, err := d.Measure(t.Context(), "hand/volts"); !errors.Is(err, wire.ErrTimeout) {
		t.Fatal(err)
	}
	f.answers = [][]byte{volts("3.000")}
	if r, err := d.Measure(t.Context(), "hand/volts"); err != nil || r.Value != 3 {
		t.Fatalf("%+v, %v", r, err)
	}
	if got := strings.Join(f.asked, ""); got != "~DDD~D" {
		t.Errorf("sent %q: after a time-out the line is drained", got)
	}
}

func TestConnectSaysWhatToDo(t *testing.T) {
	plan := segmentPlan()
	plan.Listen = 20 * time.Millisecond
	for _, c := range []struct {
		name   string
		pieces [][]byte
		says   string
	}{
		{"silence", nil, "switch the meter on, and its sending"},
		{"another language", [][]byte{[]byte("+5.01 V\r\n")}, "cannot be read: check the model and the line settings"},
	} {
		f := &far{pieces: c.pieces}
		d, err := New(Options{Info: capture.InstrumentInfo{Name: "hand"}, Plan: plan, Dial: func(context.Context) (wire.Link, error) { return f, nil }})
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Connect(t.Context()); err == nil || !strings.Contains(err.Error(), c.says) || !f.closed {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestAnotherSocket: a meter without identity is known by its socket alone.
func TestAnotherSocket(t *testing.T) {
	f := &far{pieces: [][]byte{volts("1.000"), volts("1.000")}}
	d := connected(t, segmentPlan(), f)
	f.where.Path = "pci-1/usb-3"
	if err := d.Connect(t.Context()); err == nil || !strings.Contains(err.Error(), "check the cables") {
		t.Fatal(err)
	}
}

func TestPlanMistakes(t *testing.T) {
	twice := segmentPlan()
	twice.Channels = append(twice.Channels, twice.Channels[0])
	both := segmentPlan()
	both.Lines = &Lines{}
	often := segmentPlan()
	often.Agree = 6
	for says, p := range map[string]Plan{
		"either lines or segments": both, "cannot tell which is meant": twice, "want 1 to 5": often,
		"there is none": {Segments: celsius},
		"two meanings":  {Segments: &Segments{Celsius: 1, Held: 1}, Channels: segmentPlan().Channels},
		"0 to 15":       {Segments: &Segments{Celsius: 16}, Channels: segmentPlan().Channels},
	} {
		if _, err := New(Options{Plan: p}); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", says, err)
		}
	}
}
