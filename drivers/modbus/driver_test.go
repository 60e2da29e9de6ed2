package modbus

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

// plan is a supply with a meter, for tests: volts and its limiting bit lie in
// one stretch, amperes in the other table.
func plan() Plan {
	hundredth, thousandth := Format{Scale: Scale{1, -2}}, Format{Scale: Scale{1, -3}}
	return Plan{
		Identity: Identity{
			Model:  &Block{Register: 0, Words: 4},
			Serial: &Block{Register: 4, Words: 2, Number: true, Format: Format{Words: 2}},
		},
		Channels: []Channel{
			{
				Info: capture.ChannelInfo{ID: "volts", Quantity: capture.DCVoltage, Every: time.Second, Setpoint: true,
					Accuracy: []capture.Accuracy{{Range: 32, Resolution: 0.01}}},
				Register: 16, Format: hundredth, Limiting: true, OverRange: []uint64{0xFFFF}, NotANumber: []uint64{0x8000},
			},
			{
				Info:  capture.ChannelInfo{ID: "amperes", Quantity: capture.DCCurrent, Every: time.Second},
				Table: Input, Register: 8, Format: Format{Words: 2, Signed: true, Scale: Scale{1, -4}}, Limiting: true,
			},
			{
				Info:     capture.ChannelInfo{ID: "celsius", Quantity: capture.Temperature, Every: time.Second},
				Register: 40, Format: Format{Words: 2, Float: true}, Resolution: 0.1,
			},
		},
		Limiting: &Bits{Register: 18, Mask: 0x0002},
		Output:   &Output{Register: 32, On: 1},
		Limits: []Limit{
			{Name: "volts", Unit: capture.Volt, Register: 33, Ask: -1, Format: hundredth, Max: 32},
			{Name: "over-voltage", Unit: capture.Volt, Register: 35, Ask: -1, Format: hundredth, Max: 35},
			{Name: "amperes", Unit: capture.Ampere, Register: 34, Ask: 50, Format: thousandth, Max: 5},
		},
	}
}

// script writes rows of a recording from the data units of requests and answers;
// the frames around them are those of the framing.
type script struct {
	framing     Framing
	unit        byte
	transaction uint16
	rows        strings.Builder
}

func (s *script) row(mark string) { fmt.Fprintf(&s.rows, "0.000000 %s\n", mark) }

// play adds rows: "~", "03 00 10 00 03 = 03 06 ...", or "03 00 10 00 03 ! timed out".
func (s *script) play(t *testing.T, rows string) *script {
	for _, row := range strings.Split(rows, "\n") {
		row = strings.TrimSpace(row)
		asked, answer, answered := strings.Cut(row, " = ")
		_, failed, fails := strings.Cut(row, " ! ")
		switch {
		case row == "":
		case row == "~":
			s.row(row)
		case row == "new connection":
			s.transaction = 0
		case answered:
			s.row(fmt.Sprintf("] % x", s.frame(unhex(t, asked), true)))
			s.row(fmt.Sprintf("[ % x", s.frame(unhex(t, answer), false)))
		case fails:
			s.row(fmt.Sprintf("] % x", s.frame(unhex(t, strings.TrimSuffix(row, " ! "+failed)), true)))
			s.row("! " + failed)
		default:
			t.Fatalf("row %q", row)
		}
	}
	return s
}

func (s *script) frame(pdu []byte, request bool) []byte {
	if request {
		s.transaction++
	}
	if s.framing == TCP {
		return wrapTCP(s.transaction, s.unit, pdu)
	}
	return wrapRTU(s.unit, pdu)
}

// played makes a driver of unit 7 on a recording.
func played(t *testing.T, rows string, change ...func(*Options)) (*Driver, *wire.Player) {
	t.Helper()
	o := Options{
		Info: capture.InstrumentInfo{Name: "unit", Acts: []string{"output", "limits"}}, Plan: plan(), Unit: 7,
	}
	for _, c := range change {
		c(&o)
	}
	s := &script{framing: o.Framing, unit: byte(o.Unit)}
	s.play(t, rows)
	p, err := wire.NewPlayer(strings.NewReader("steadyrail wire recording 1\n" + s.rows.String()))
	if err != nil {
		t.Fatal(err)
	}
	o.Dial = func(context.Context) (wire.Link, error) { return p, nil }
	d, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return d, p
}

func used(t *testing.T, p *wire.Player) {
	t.Helper()
	if err := p.Done(); err != nil {
		t.Error(err)
	}
}

func wants(t *testing.T, err, want error, says string) {
	t.Helper()
	if !errors.Is(err, want) || !strings.Contains(fmt.Sprint(err), says) {
		t.Fatalf("got %v, want %v that says %q", err, want, says)
	}
}

// who is the identity: "PSU-2" and number 240011.
const who = `
	03 00 00 00 04 = 03 08 50 53 55 2D 32 00 00 00
	03 00 04 00 02 = 03 04 00 03 A9 8B
`
const hello = "~\n" + who

func connected(t *testing.T, rows string, change ...func(*Options)) (*Driver, *wire.Player) {
	t.Helper()
	d, p := played(t, hello+rows, change...)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	return d, p
}

// TestConnect: it only reads, in both framings.
func TestConnect(t *testing.T) {
	for _, f := range []Framing{RTU, TCP} {
		d, p := connected(t, "", func(o *Options) { o.Framing = f })
		if id := d.Info().Identity; id.String() != "PSU-2, serial number 240011" || id.Source != "idn" {
			t.Errorf("%s: %+v", f, id)
		}
		used(t, p)
	}
}

func TestSomebodyElse(t *testing.T) {
	d, p := played(t, strings.Repeat(hello, attempts), func(o *Options) { o.Expect.Serial = "00240012" })
	wants(t, d.Connect(t.Context()), ErrMismatch, "00240012 was expected")
	if d.Link() != nil {
		t.Error("the link is still held")
	}
	used(t, p)
}

// TestLadder: an instrument without a serial number is known by its adapter.
func TestLadder(t *testing.T) {
	s := &script{unit: 7}
	s.play(t, "~\n03 00 10 00 01 = 03 02 01 F4\n~")
	p, err := wire.NewPlayer(strings.NewReader("steadyrail wire recording 1\n" + s.rows.String()))
	if err != nil {
		t.Fatal(err)
	}
	bare := plan()
	bare.Identity = Identity{}
	d, err := New(Options{Info: capture.InstrumentInfo{Name: "unit"}, Plan: bare, Unit: 7, Dial: func(context.Context) (wire.Link, error) {
		return located{p}, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if id := d.Info().Identity; id.Serial != "0403:6001:A1" || id.Source != "adapter" {
		t.Errorf("%+v", id)
	}
	used(t, p)
}

type located struct{ wire.Link }

func (located) Whereabouts() wire.Whereabouts {
	return wire.Whereabouts{Adapter: "0403:6001:A1", Path: "1-2"}
}

func TestIdentityTexts(t *testing.T) {
	for _, c := range []struct {
		data string
		want string
		ok   bool
	}{
		{"50 53 55 2D 32 00 00 00", "PSU-2", true}, {"50 53 55 20 20 20 20 20", "PSU", true}, {"FF FF FF FF", "", true},
		{"00 00", "", true}, {"50 00 55 00", "P\x00U", false}, {"80 41", "", false},
	} {
		got, ok := printable(unhex(t, c.data))
		if ok != c.ok || ok && got != c.want {
			t.Errorf("%s: %q, %v", c.data, got, ok)
		}
	}
}

func TestMeasure(t *testing.T) {
	for _, c := range []struct {
		name, channel, rows string
		text                string
		resolution, rng     float64
		flags               capture.Flags
	}{
		{"value and limiting bit in one request", "volts", "03 00 10 00 03 = 03 06 01 F5 00 00 00 02", "5.01", 0.01, 32, capture.Limiting},
		{"not limiting", "volts", "03 00 10 00 03 = 03 06 01 F5 FF FF FF FD", "5.01", 0.01, 32, 0},
		{"over range", "volts", "03 00 10 00 03 = 03 06 FF FF 00 00 00 00", "", 0, 0, capture.OverRange},
		{"not a number", "volts", "03 00 10 00 03 = 03 06 80 00 00 00 00 00", "", 0, 0, capture.NotANumber},
		{"two requests where the tables differ", "amperes", "04 00 08 00 02 = 04 04 FF FF FF FE\n03 00 12 00 01 = 03 02 00 02", "-0.0002", 0.0001, 0, capture.Limiting},
		{"float32", "celsius", "03 00 28 00 02 = 03 04 41 BB 33 33", "23.4", 0.1, 0, 0},
		{"float32 that is none", "celsius", "03 00 28 00 02 = 03 04 7F C0 00 00", "", 0, 0, capture.NotANumber},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := connected(t, c.rows)
			id := capture.ChannelID("unit/" + c.channel)
			if err := d.Select(t.Context(), id); err != nil {
				t.Fatal(err)
			}
			r, err := d.Measure(t.Context(), id)
			if err != nil || r.Text != c.text || r.Resolution != c.resolution || r.Range != c.rng || r.Flags != c.flags || r.Channel != id {
				t.Fatalf("%+v, %v", r, err)
			}
			if v := r.Value; c.text != "" && fmt.Sprint(v) != c.text {
				t.Fatalf("%v is not %s", v, c.text)
			}
			used(t, p)
		})
	}
}

// TestTrouble: an exception is told and changes nothing; after a time-out, a
// damaged frame or an answer to something else the identity comes first.
func TestTrouble(t *testing.T) {
	again := hello + "03 00 28 00 02 = 03 04 3F 80 00 00"
	for _, c := range []struct {
		name, rows string
		err        error
		says       string
		resyncs    uint64
	}{
		{"busy", "03 00 28 00 02 = 83 06\n03 00 28 00 02 = 03 04 3F 80 00 00", ErrRefused, "busy", 0},
		{"illegal address", "03 00 28 00 02 = 83 02\n03 00 28 00 02 = 03 04 3F 80 00 00", ErrRefused, "no such register", 0},
		{"time-out", "03 00 28 00 02 ! timed out\n" + again, wire.ErrTimeout, "", 1},
		{"garbled", "03 00 28 00 02 ! garbled\n" + again, wire.ErrGarbled, "", 1},
		{"byte count", "03 00 28 00 02 = 03 02 3F 80\n" + again, ErrMalformed, "begin with 03 04", 1},
		{"function", "03 00 28 00 02 = 04 04 3F 80 00 00\n" + again, ErrMalformed, "function 3", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := connected(t, c.rows)
			_, err := d.Measure(t.Context(), "unit/celsius")
			wants(t, err, c.err, c.says)
			r, err := d.Measure(t.Context(), "unit/celsius")
			if err != nil || r.Value != 1 {
				t.Fatalf("then: %+v, %v", r, err)
			}
			if d.Resyncs() != c.resyncs {
				t.Errorf("%d resyncs", d.Resyncs())
			}
			used(t, p)
		})
	}
}

// TestInDoubtByOthers: another unit's time-out left the link in doubt; our
// reading is not lost.
func TestInDoubtByOthers(t *testing.T) {
	d, p := connected(t, "03 00 28 00 02 ! in doubt\n~\n03 00 28 00 02 ! in doubt\n~\n03 00 28 00 02 = 03 04 3F 80 00 00")
	r, err := d.Measure(t.Context(), "unit/celsius")
	if err != nil || r.Value != 1 || d.Resyncs() != 0 {
		t.Fatalf("%+v, %v, %d resyncs", r, err, d.Resyncs())
	}
	used(t, p)
}

func TestGone(t *testing.T) {
	d, p := connected(t, "03 00 28 00 02 ! gone\nnew connection\n"+hello)
	_, err := d.Measure(t.Context(), "unit/celsius")
	wants(t, err, wire.ErrGone, "")
	_, err = d.Measure(t.Context(), "unit/celsius")
	wants(t, err, ErrNotConnected, "")
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	used(t, p)
}

func output(state string) capture.Act { return capture.Act{Verb: capture.ActOutput, Text: state} }
func limits(text string) capture.Act  { return capture.Act{Verb: capture.ActLimits, Text: text} }

func TestActs(t *testing.T) {
	coil := func(o *Options) { o.Plan.Output = &Output{Table: Coil, Register: 5} }
	multiple := func(o *Options) { o.Plan.Multiple = true }
	asked := func(o *Options) { o.Plan.Output.Ask = &Bits{Table: Input, Register: 3, Mask: 0x80} }
	none := func(o *Options) {}
	for _, c := range []struct {
		name   string
		change func(*Options)
		act    capture.Act
		rows   string
		said   string
		err    error
		says   string
	}{
		{"on", none, output("on"), "06 00 20 00 01 = 06 00 20 00 01\n03 00 20 00 01 = 03 02 00 01", "output on, read back", nil, ""},
		{"off", none, output("off"), "06 00 20 00 00 = 06 00 20 00 00\n03 00 20 00 01 = 03 02 00 00", "output off, read back", nil, ""},
		{"a coil on", coil, output("on"), "05 00 05 FF 00 = 05 00 05 FF 00\n01 00 05 00 01 = 01 01 01", "output on, read back", nil, ""},
		{"a coil off, with other bits", coil, output("off"), "05 00 05 00 00 = 05 00 05 00 00\n01 00 05 00 01 = 01 01 FE", "output off, read back", nil, ""},
		{"by function 16", multiple, output("on"), "10 00 20 00 01 02 00 01 = 10 00 20 00 01\n03 00 20 00 01 = 03 02 00 01", "output on, read back", nil, ""},
		{"read back elsewhere", asked, output("on"), "06 00 20 00 01 = 06 00 20 00 01\n04 00 03 00 01 = 04 02 00 81", "output on, read back", nil, ""},
		{"not confirmed", none, output("on"), "06 00 20 00 01 = 06 00 20 00 01\n03 00 20 00 01 = 03 02 00 00", "", ErrRefused, "reads back as off"},
		{"confirmed by nonsense", none, output("on"), "06 00 20 00 01 = 06 00 20 00 01\n03 00 20 00 01 = 03 02 00 05", "", ErrMalformed, "0 for off"},
		{"refused", none, output("on"), "06 00 20 00 01 = 86 04", "", ErrRefused, "server device failure"},
		{"another value acknowledged", none, output("on"), "06 00 20 00 01 = 06 00 20 00 00", "", ErrMalformed, "06 00 20 00 01"},
		{"off is sent twice when it was not answered", none, output("off"), "06 00 20 00 00 ! timed out\n~\n06 00 20 00 00 = 06 00 20 00 00\n" + hello + "03 00 20 00 01 = 03 02 00 00", "output off, read back", nil, ""},
		{"neither on nor off", none, output("maybe"), "", "", ErrNotAllowed, "maybe"},
		{"set-point under the protection in force", none, limits("over-voltage 6, volts 5"), `
			03 00 23 00 01 = 03 02 0D AC
			06 00 21 01 F4 = 06 00 21 01 F4
			03 00 21 00 01 = 03 02 01 F4
			06 00 23 02 58 = 06 00 23 02 58
			03 00 23 00 01 = 03 02 02 58`, "volts 5.00 V, over-voltage 6.00 V (state not confirmed), read back", nil, ""},
		{"set-point above the protection in force", none, limits("volts 12, over-voltage 14"), `
			03 00 23 00 01 = 03 02 02 58
			06 00 23 05 78 = 06 00 23 05 78
			03 00 23 00 01 = 03 02 05 78
			06 00 21 04 B0 = 06 00 21 04 B0
			03 00 21 00 01 = 03 02 04 B0`, "over-voltage 14.00 V (state not confirmed), volts 12.00 V, read back", nil, ""},
		{"read back elsewhere, within a count", none, limits("amperes 0.5"), "06 00 22 01 F4 = 06 00 22 01 F4\n03 00 32 00 01 = 03 02 01 F5", "amperes 0.501 A, read back", nil, ""},
		{"set to something else", none, limits("volts 3.3"), "06 00 21 01 4A = 06 00 21 01 4A\n03 00 21 00 01 = 03 02 01 2C", "", ErrRefused, "reads back as volts 3.00"},
		{"more than it can", none, limits("volts 33"), "", "", ErrNotAllowed, "from 0 to 32 V"},
		{"below nothing", none, limits("volts -5"), "", "", ErrNotAllowed, "volts"},
		{"no number", none, limits("volts NaN"), "", "", ErrNotAllowed, "volts"},
		{"twice", none, limits("volts 5, volts 6"), "", "", ErrNotAllowed, "twice"},
		{"no such limit", none, limits("watts 5"), "", "", ErrNotAllowed, "use volts, over-voltage"},
		{"all is checked before anything is sent", none, limits("volts 5, over-voltage 99"), "", "", ErrNotAllowed, "99"},
		{"another act", none, capture.Act{Verb: capture.ActTurn}, "", "", ErrNotAllowed, "its model has no turn"},
		{"not allowed", func(o *Options) { o.Info.Acts = nil }, output("off"), "", "", ErrNotAllowed, `add "output"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := connected(t, c.rows, c.change)
			said, err := d.Do(t.Context(), c.act)
			if c.err != nil {
				wants(t, err, c.err, c.says)
			} else if err != nil || said != c.said {
				t.Fatalf("got %q, %v", said, err)
			}
			used(t, p)
		})
	}
}

// TestOnInDoubt: on waits until it is certain who is there.
func TestOnInDoubt(t *testing.T) {
	other := "~\n03 00 00 00 04 = 03 08 50 53 55 2D 32 00 00 00\n03 00 04 00 02 = 03 04 00 03 A9 8C\n"
	d, p := connected(t, "03 00 28 00 02 ! timed out\n"+strings.Repeat(other, attempts))
	_, _ = d.Measure(t.Context(), "unit/celsius")
	_, err := d.Do(t.Context(), output("on"))
	wants(t, err, ErrMismatch, "240012")
	used(t, p)
}

// TestClose: the output is touched at the end only if the configuration says so,
// and never when the link is merely dropped.
func TestClose(t *testing.T) {
	off := func(o *Options) { o.OffExit = true }
	switched := "06 00 20 00 00 = 06 00 20 00 00\n03 00 20 00 01 = 03 02 00 00"
	for _, c := range []struct {
		name, rows string
		change     func(*Options)
		end        func(*Driver) error
	}{
		{"leave", "", func(*Options) {}, (*Driver).Close},
		{"off", switched, off, (*Driver).Close},
		{"dropped", "", off, (*Driver).Drop},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := connected(t, c.rows, c.change)
			for range 2 { // twice is harmless
				if err := c.end(d); err != nil {
					t.Fatal(err)
				}
			}
			used(t, p)
		})
	}
}

func TestPlansThatCannotBe(t *testing.T) {
	for name, spoil := range map[string]func(*Options){
		"three words":             func(o *Options) { o.Plan.Channels[0].Format.Words = 3 },
		"a register too high":     func(o *Options) { o.Plan.Channels[1].Register = 65535 },
		"float32 in one word":     func(o *Options) { o.Plan.Channels[2].Format.Words = 1 },
		"float32 without a step":  func(o *Options) { o.Plan.Channels[2].Resolution = 0 },
		"a measured coil":         func(o *Options) { o.Plan.Channels[0].Table = Coil },
		"an output nobody writes": func(o *Options) { o.Plan.Output.Table = Input },
		"on is off":               func(o *Options) { o.Plan.Output.On = 0 },
		"no limiting bit":         func(o *Options) { o.Plan.Limiting.Mask = 0 },
		"a limit without end":     func(o *Options) { o.Plan.Limits[0].Max = 0 },
		"a limit beyond 16 bits":  func(o *Options) { o.Plan.Limits[0].Max = 656 },
		"a serial of three words": func(o *Options) { o.Plan.Identity.Serial.Words = 3 },
		"unit 0 on a pair":        func(o *Options) { o.Unit = 0 },
		"unit 255 on a pair":      func(o *Options) { o.Unit = 255 },
		"unit 248":                func(o *Options) { o.Unit, o.Framing = 248, TCP },
	} {
		o := Options{Plan: plan(), Unit: 7}
		spoil(&o)
		if _, err := New(o); !errors.Is(err, ErrNotAllowed) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, unit := range []int{0, 1, 247, 255} {
		if err := CheckUnit(unit, TCP); err != nil {
			t.Error(err)
		}
	}
}

func TestTransfer(t *testing.T) {
	d, _ := played(t, "", func(o *Options) { o.Baud = 9600 })
	d.answered.Store(11) // three registers, ten bits a byte
	if got, want := d.Transfer(4), 110*time.Second/9600; got != want {
		t.Errorf("%v, want %v", got, want)
	}
}
