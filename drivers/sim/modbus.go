package sim

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"
)

// The units on a [Pair].
const (
	UnitSupply  = 1 // the bench's supply, by registers
	UnitMeter5  = 2 // a panel meter on +5 V logic
	UnitMeter12 = 3 // a panel meter on +12 V audio
)

// Pair is an RS-485 pair, or the gateway in front of one, with units of the
// simulated bench on it that are read by registers. It is beside the bench's
// own links: nothing is there that nobody asked for. All methods are safe for
// concurrent use.
//
// The register map, invented, counted from 0. The supply, holding registers:
//
//	0–3 model text · 4–5 serial number · 16 volts read back, 0.01 V
//	17 amperes read back, 0.001 A · 18 status: bit 0 output on, bit 1 constant
//	current, bit 2 over-voltage tripped, bit 3 over-current tripped
//	32 output, 0 or 1 (also coil 0) · 33 volts, 0.001 V · 34 amperes, 0.001 A
//	35 over-voltage, 0.01 V · 36 over-current, 0.01 A
//
// A meter, input registers:
//
//	0–1 volts, signed, 0.0001 V, 0x7FFFFFFF above 60 V · 4–5 its temperature,
//	float32, low word first · holding 100–103 model text, 104–107 serial text
type Pair struct {
	bench *Bench
	end   endpoint
	tcp   bool
	dir   string
	stop  chan struct{}
	owned sync.WaitGroup // the goroutine that reads, and late answers

	out    sync.Mutex // one answer at a time on the wire
	mu     sync.Mutex // guards what follows
	units  map[byte]registerUnit
	faults map[byte]map[string]int
	wait   time.Duration
	heard  [][]byte // protocol data units of requests, with the unit in front
}

// registerUnit is one unit's registers; the bench's lock is held. The answer is
// the content, and 0 or an exception code.
type registerUnit interface {
	read(function byte, from, count int) ([]uint16, byte)
	write(function byte, from int, values []uint16) byte
}

// NewPair puts the pair into service, on a pseudo-terminal (RTU) or, with tcp,
// on 127.0.0.1. The caller closes it.
func (b *Bench) NewPair(seed uint64, tcp bool) (*Pair, error) {
	dir, err := os.MkdirTemp("", "steadyrail-pair-")
	if err != nil {
		return nil, fmt.Errorf("simulated pair: %w", err)
	}
	p := &Pair{
		bench: b, end: newEndpoint(dir, "pair", tcp), tcp: tcp, dir: dir, stop: make(chan struct{}),
		faults: map[byte]map[string]int{},
		units: map[byte]registerUnit{
			UnitSupply:  &registerSupply{bench: b, noise: stream(seed, "supply by registers")},
			UnitMeter5:  newRegisterMeter(b, seed, n5, "00310005"),
			UnitMeter12: newRegisterMeter(b, seed, n12, "00310012"),
		},
	}
	if err := p.end.plug(); err != nil {
		os.RemoveAll(dir)
		return nil, fmt.Errorf("simulated pair: %w", err)
	}
	p.owned.Add(1)
	go p.serve()
	return p, nil
}

// Link returns the link string without an address.
func (p *Pair) Link() string { return p.end.link() }

// Close takes the pair away and waits for its goroutines.
func (p *Pair) Close() {
	close(p.stop)
	p.end.unplug()
	p.owned.Wait()
	os.RemoveAll(p.dir)
}

// PairFaults are what [Pair.Fault] knows.
func PairFaults() []string {
	return []string{"mute", "sum", "busy", "illegal", "late", "echo", "noise", "other unit", "transaction", "count"}
}

// Fault makes a unit's next answers, so many, go wrong: "mute" says nothing,
// "sum" has a wrong check sum, "busy" and "illegal" are exceptions, "late" comes
// after wait, "echo" and "noise" lie before the answer, "other unit" carries the
// next address, "transaction" the one before, "count" has a register too few.
func (p *Pair) Fault(unit byte, name string, times int, wait time.Duration) error {
	if !known(name, PairFaults()) {
		return fmt.Errorf("%w %q: use one of %q", ErrFault, name, PairFaults())
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.faults[unit] == nil {
		p.faults[unit] = map[string]int{}
	}
	p.faults[unit][name] = times
	p.wait = wait
	return nil
}

// Heard returns the requests so far, unit and protocol data unit. For tests.
func (p *Pair) Heard() [][]byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([][]byte(nil), p.heard...)
}

func (p *Pair) serve() {
	defer p.owned.Done()
	for {
		conn, err := p.end.accept()
		if err != nil {
			return
		}
		p.talk(conn)
		if c, ok := conn.(io.Closer); ok {
			c.Close()
		}
	}
}

// talk answers until the line breaks.
func (p *Pair) talk(conn io.ReadWriter) {
	cut := cutRTU
	if p.tcp {
		cut = cutMBAP
	}
	var in []byte
	buf := make([]byte, 512)
	for {
		n, err := conn.Read(buf)
		in = append(in, buf[:n]...)
		for {
			q, used, ok := cut(in)
			in = in[used:]
			if !ok {
				break
			}
			p.hear(conn, q)
		}
		if err != nil || len(in) > longestRequest {
			return
		}
	}
}

// hear answers one request. A unit that is not there is silent.
func (p *Pair) hear(conn io.Writer, q question) {
	p.mu.Lock()
	unit := p.units[q.unit]
	p.heard = append(p.heard, append([]byte{q.unit}, q.body...))
	p.mu.Unlock()
	if unit == nil {
		return
	}
	p.bench.mu.Lock()
	p.bench.catchUp()
	body := replyTo(unit, q.body)
	p.bench.mu.Unlock()
	frame, wait := p.spoil(q, body)
	if wait == 0 {
		if sleep(p.bench.clock, registerLag+p.bench.lineTime(len(frame)), p.stop) {
			p.put(conn, frame)
		}
		return
	}
	p.owned.Add(1) // others answer meanwhile
	go func() {
		defer p.owned.Done()
		timer := time.NewTimer(wait)
		defer timer.Stop()
		select {
		case <-timer.C:
			p.put(conn, frame)
		case <-p.stop:
		}
	}()
}

func (p *Pair) put(conn io.Writer, frame []byte) {
	p.out.Lock()
	defer p.out.Unlock()
	if len(frame) > 0 {
		_, _ = conn.Write(frame) // whoever hung up notices himself
	}
}

// spoil frames an answer with the faults that are due.
func (p *Pair) spoil(q question, body []byte) (frame []byte, wait time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	due := func(name string) bool {
		left := p.faults[q.unit][name]
		if left > 0 {
			p.faults[q.unit][name]--
		}
		return left > 0
	}
	if due("mute") {
		return nil, 0
	}
	if due("busy") {
		body = []byte{q.body[0] | 0x80, 6}
	}
	if due("illegal") {
		body = []byte{q.body[0] | 0x80, 2}
	}
	if due("count") && body[0] < 0x05 && len(body) > 4 {
		body = append([]byte{body[0], body[1] - 2}, body[4:]...)
	}
	a := q
	if due("other unit") {
		a.unit++
	}
	if due("transaction") {
		a.transaction--
	}
	frame = p.framed(a, body)
	if due("sum") && !p.tcp {
		frame[len(frame)-1] ^= 0x5A
	}
	if due("noise") && !p.tcp {
		frame = append([]byte{0x00, q.unit, 0xF8}, frame...)
	}
	if due("echo") && !p.tcp {
		frame = append(p.framed(q, q.body), frame...)
	}
	if due("late") {
		wait = p.wait
	}
	return frame, wait
}

func (p *Pair) framed(q question, body []byte) []byte {
	if p.tcp {
		return putMBAP(q, body)
	}
	return putRTU(q, body)
}
