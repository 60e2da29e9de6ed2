package bus_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/poll"
)

var (
	errUnplugged = errors.New("unplugged")
	errStranger  = errors.New("another instrument answers")
)

var jobNames = []string{"AB-0147", "AB-0148"}

// room is the truth: which meter hangs on which port, and what each meter's
// probe touches. Every value a meter gives says it.
type room struct {
	mu    sync.Mutex
	rng   *rand.Rand
	ports []*meter // by port; nil: nothing plugged
	plugs []int    // how often each port was plugged anew
}

type meter struct {
	serial   string
	function string
	spot     int // 0: in the air; otherwise 1 + 4*job + rail
}

// code is what a meter reads: its spot and its function.
func code(spot int, function string) float64 {
	if function == "ohms" {
		return float64(spot) + 100
	}
	return float64(spot)
}

// probe is the driver of a meter that is expected on a port.
type probe struct {
	room   *room
	name   string
	port   int
	expect string // "": whoever is there
	source string // rung of the ladder on which the meter is known
	plug   int    // generation of the connection
	open   bool
	who    string
}

func (p *probe) Info() capture.InstrumentInfo {
	ch := func(f string, q capture.Quantity) capture.ChannelInfo {
		return capture.ChannelInfo{ID: capture.ChannelID(p.name + "/" + f), Quantity: q, Every: 40 * time.Millisecond, Group: "input"}
	}
	return capture.InstrumentInfo{Name: p.name, Identity: p.identity(),
		Channels: []capture.ChannelInfo{ch("volts", capture.DCVoltage), ch("ohms", capture.Resistance)}}
}

// identity is what the meter is known by: the two first have adapters of the
// same serial number.
func (p *probe) identity() capture.Identity {
	id := capture.Identity{Serial: p.who, Source: p.source}
	switch p.source {
	case "adapter":
		id.Serial = "0001"
	case "path":
		id.Serial = fmt.Sprintf("platform-usb-0:%d", p.port)
	}
	return id
}

func (p *probe) nap(upto time.Duration) {
	p.room.mu.Lock()
	d := time.Duration(p.room.rng.Int64N(int64(upto)))
	p.room.mu.Unlock()
	time.Sleep(d)
}

func (p *probe) Connect(context.Context) error {
	p.nap(20 * time.Millisecond)
	p.room.mu.Lock()
	defer p.room.mu.Unlock()
	m := p.room.ports[p.port]
	if m == nil {
		return errUnplugged
	}
	if p.expect != "" && m.serial != p.expect {
		return fmt.Errorf("%w: %s", errStranger, m.serial)
	}
	p.open, p.plug, p.who = true, p.room.plugs[p.port], m.serial
	return nil
}

// meter returns who is on the line, unless the line is dead.
func (p *probe) meter() (*meter, error) {
	if m := p.room.ports[p.port]; m != nil && p.open && p.plug == p.room.plugs[p.port] {
		return m, nil
	}
	return nil, errUnplugged
}

func (p *probe) Select(_ context.Context, ch capture.ChannelID) error {
	p.nap(10 * time.Millisecond)
	p.room.mu.Lock()
	defer p.room.mu.Unlock()
	m, err := p.meter()
	if err == nil {
		m.function = ch.Input()
	}
	return err
}

func (p *probe) Measure(context.Context, capture.ChannelID) (capture.Reading, error) {
	p.nap(15 * time.Millisecond)
	p.room.mu.Lock()
	m, err := p.meter()
	var v float64
	if err == nil {
		v = code(m.spot, m.function)
	}
	p.room.mu.Unlock()
	if err != nil {
		return capture.Reading{}, err
	}
	p.nap(15 * time.Millisecond)
	return capture.Reading{Value: v}, nil
}

func (p *probe) Do(context.Context, capture.Act) (string, error) { return "", nil }
func (p *probe) Close() error                                    { p.open = false; return nil }

func classify(err error) capture.Flags {
	if errors.Is(err, errStranger) {
		return capture.Mismatch
	}
	return capture.Disconnected
}

// hasty is a bus that files by the newest placement, whenever the measuring
// began: what would happen without that check.
type hasty struct{ *bus.Bus }

func (h hasty) ReadBegun(r capture.Reading, _ capture.Instant) capture.Instant { return h.Read(r) }

// probing does n random things on a bench of three meters and two boards and
// returns how many good readings were filed on a rail, and how many of those on
// the wrong one. Two things in five are replugs, half of them swaps.
func probing(t *testing.T, n int, seed uint64, wrap func(*bus.Bus) poll.Sink, sources ...string) (filed, wrong int) {
	if len(sources) == 0 {
		sources = []string{"idn", "idn", "idn"}
	}
	synctest.Test(t, func(t *testing.T) {
		r := &room{rng: rand.New(rand.NewPCG(seed, 0)), plugs: make([]int, 3)}
		b := bus.New(capture.NewWallClock())
		logs := map[string]*log{}
		for _, j := range jobNames {
			logs[j] = &log{}
			b.Attach(j, logs[j])
		}
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() { b.Run(ctx) })
		p := &person{t: t, room: r, bus: b, rng: rand.New(rand.NewPCG(seed, 1))}
		var roster capture.Roster
		var adapters poll.Adapters
		for i, name := range []string{"dmm", "dmm2", "dmm3"} {
			m := &meter{serial: "0000" + name, function: "volts"}
			d := &probe{room: r, name: name, port: i, expect: m.serial, source: sources[i]}
			if i == 2 || d.source != "idn" {
				d.expect = "" // the loop must notice by itself
			}
			r.ports = append(r.ports, m)
			p.meters = append(p.meters, m)
			roster.Instruments = append(roster.Instruments, d.Info())
			l := poll.New(name, []poll.Instrument{d}, capture.NewWallClock(), wrap(b), poll.Options{Classify: classify, Seed: seed, Adapters: &adapters})
			p.loops = append(p.loops, l)
			wg.Go(func() { _ = l.Run(ctx) })
		}
		time.Sleep(time.Second)
		for _, j := range jobNames {
			mustPost(t, b, j, board(j), roster)
		}
		for range n {
			p.act(ctx)
		}
		cancel()
		wg.Wait()
		for i, j := range jobNames {
			f, w := judge(t, i, logs[j].all())
			filed, wrong = filed+f, wrong+w
		}
	})
	return filed, wrong
}

type person struct {
	t      *testing.T
	room   *room
	bus    *bus.Bus
	rng    *rand.Rand
	meters []*meter
	loops  []*poll.Loop
}

func (p *person) nap(upto time.Duration) { time.Sleep(time.Duration(p.rng.Int64N(int64(upto)))) }

func (p *person) act(ctx context.Context) {
	p.nap(150 * time.Millisecond)
	p.tap(ctx)
	switch k := p.rng.IntN(20); {
	case k < 8:
		p.replug()
	case k < 14:
		p.move(ctx, true)
	default:
		p.move(ctx, false)
	}
}

// tap touches a rail with each meter in doubt, one time in four, and confirms it
// if it is the one that hangs there. It may be pulled in between.
func (p *person) tap(ctx context.Context) {
	for i, l := range p.loops {
		s := l.States()[0]
		if !s.Doubtful || p.rng.IntN(4) != 0 {
			continue
		}
		p.room.mu.Lock()
		follows := p.room.ports[i] == p.meters[i]
		p.room.mu.Unlock()
		if follows {
			short, cancel := context.WithTimeout(ctx, 100*time.Millisecond)
			_ = l.Confirm(short, s.Name, s.Since, func() error { return nil }) // may be away again
			cancel()
		}
	}
}

// replug pulls two plugs and puts them back, straight or crossed.
func (p *person) replug() {
	i, j := p.rng.IntN(3), p.rng.IntN(3)
	p.room.mu.Lock()
	a, b := p.room.ports[i], p.room.ports[j]
	p.room.ports[i], p.room.ports[j] = nil, nil
	p.room.mu.Unlock()
	if p.rng.IntN(2) == 0 {
		p.nap(300 * time.Millisecond)
	}
	p.room.mu.Lock()
	defer p.room.mu.Unlock()
	if p.rng.IntN(2) == 0 {
		a, b = b, a
	}
	p.room.ports[i], p.room.ports[j] = a, b
	p.room.plugs[i]++
	p.room.plugs[j]++
}

// move puts a meter's probe on a rail of a board and says so: in one breath, or
// as careful people do, off first, then over, then on.
func (p *person) move(ctx context.Context, careful bool) {
	m := p.rng.IntN(3)
	job, rail := p.rng.IntN(2), p.rng.IntN(4)
	function := []string{"volts", "ohms"}[p.rng.IntN(2)]
	name := []string{"dmm", "dmm2", "dmm3"}[m]
	ch := capture.ChannelID(name + "/" + function)
	if careful || p.elsewhere(name, jobNames[job]) {
		p.liftOff(name)
		p.touch(m, 0)
		p.nap(100 * time.Millisecond)
	}
	short, cancel := context.WithTimeout(ctx, 100*time.Millisecond)
	_ = p.loops[m].Select(short, ch) // may be away: the choice is kept
	cancel()
	spot := 1 + 4*job + rail
	if careful {
		p.touch(m, spot)
		p.nap(100 * time.Millisecond)
		p.place(job, rail, ch)
		return
	}
	p.nap(100 * time.Millisecond)
	p.room.mu.Lock()
	defer p.room.mu.Unlock()
	p.meters[m].spot = spot
	p.place(job, rail, ch)
}

func (p *person) touch(m, spot int) {
	p.room.mu.Lock()
	defer p.room.mu.Unlock()
	p.meters[m].spot = spot
}

func (p *person) place(job, rail int, ch capture.ChannelID) {
	mustPost(p.t, p.bus, jobNames[job], capture.Placement{Channel: ch, Rail: board("").Rails[rail].Name})
}

// elsewhere reports whether an instrument stands in another job than the given.
func (p *person) elsewhere(instrument, job string) bool {
	for _, f := range []string{"/volts", "/ohms"} {
		if j, at, _ := p.bus.Where(capture.ChannelID(instrument + f)); j != "" && j != job && at.Rail != "" {
			return true
		}
	}
	return false
}

func (p *person) liftOff(instrument string) {
	for _, f := range []string{"/volts", "/ohms"} {
		ch := capture.ChannelID(instrument + f)
		if j, at, _ := p.bus.Where(ch); at.Rail != "" {
			mustPost(p.t, p.bus, j, capture.Placement{Channel: ch})
		}
	}
}

// judge files a job's log as every reader does and holds it against the truth.
func judge(t *testing.T, job int, records []capture.Record) (filed, wrong int) {
	var fold capture.Placements
	for _, rec := range records {
		switch it := rec.Item.(type) {
		case capture.Placement:
			if err := fold.Apply(rec.At, it); err != nil {
				t.Fatal(err)
			}
		case capture.Reading:
			at, _ := fold.At(it.Channel, rec.At)
			if !it.Good() || at.Rail == "" {
				continue
			}
			filed++
			for i, r := range board("").Rails {
				if r.Name == at.Rail && it.Value != code(1+4*job+i, it.Channel.Input()) {
					wrong++
				}
			}
		}
	}
	return filed, wrong
}

func TestTenThousandPlacementsAndReplugsMisfileNothing(t *testing.T) {
	filed, wrong := probing(t, 25_000, 147, func(b *bus.Bus) poll.Sink { return b })
	if wrong != 0 || filed < 20_000 {
		t.Errorf("%d of %d readings stand under a wrong rail", wrong, filed)
	}
	t.Logf("%d readings filed on rails", filed)
}

func TestTheMisfilingTestCanFail(t *testing.T) {
	if _, wrong := probing(t, 2_000, 147, func(b *bus.Bus) poll.Sink { return hasty{b} }); wrong == 0 {
		t.Error("filing by the newest placement alone was not caught")
	}
}

// blindly is a bus that is told of no doubt.
type blindly struct{ b *bus.Bus }

func (s blindly) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	return s.b.ReadBegun(r, begun)
}
func (s blindly) Post(job string, item capture.Item) (capture.Instant, error) {
	return s.b.Post(job, item)
}
func (s blindly) Serves(instrument string) []string { return s.b.Serves(instrument) }

// Meters that cannot say who they are, replugged and swapped: two behind adapters
// of the same serial number, one known by its socket. Whatever answers after a
// connection counts only once a person has touched a rail with it.
func TestTenThousandSwapsOfNamelessMetersMisfileNothing(t *testing.T) {
	ladder := []string{"adapter", "adapter", "path"}
	filed, wrong := probing(t, 25_000, 148, func(b *bus.Bus) poll.Sink { return b }, ladder...)
	if wrong != 0 || filed < 5_000 {
		t.Errorf("%d of %d readings stand under a wrong rail", wrong, filed)
	}
	t.Logf("%d readings filed on rails", filed)
	if _, wrong := probing(t, 1_000, 148, func(b *bus.Bus) poll.Sink { return blindly{b} }, ladder...); wrong == 0 {
		t.Error("filing in spite of the doubt was not caught")
	}
}
