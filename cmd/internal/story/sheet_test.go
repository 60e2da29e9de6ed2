package story_test

import (
	"bufio"
	"fmt"
	"math"
	"net"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
	"steadyrail/rules/diagnose"
)

// stepClock is bench time that passes when somebody waits for it.
type stepClock struct{ now atomic.Int64 }

func (c *stepClock) Now() capture.Instant { return capture.Instant(c.now.Load()) }

func (c *stepClock) After(d time.Duration) (<-chan time.Time, func()) {
	c.now.Add(d.Microseconds())
	fired := make(chan time.Time, 1)
	fired <- time.Time{}
	return fired, func() {}
}

// meter is a simulated meter at its own port.
type meter struct {
	t    *testing.T
	conn net.Conn
	in   *bufio.Reader
}

func dial(t *testing.T, link string) meter {
	conn, err := net.Dial("tcp", strings.TrimPrefix(link, "tcp:"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	m := meter{t, conn, bufio.NewReader(conn)}
	m.say("CONF:RES")
	return m
}

func (m meter) say(line string) {
	if _, err := fmt.Fprintln(m.conn, line); err != nil {
		m.t.Fatal(err)
	}
}

func (m meter) read() float64 {
	m.say("READ?")
	text, err := m.in.ReadString('\n')
	if err != nil {
		m.t.Fatal(err)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		m.t.Fatal(err)
	}
	return v
}

// What the board's sheet says is what a meter reads on the simulated board that
// is well, in both polarities; and the parts of the sheet come to the same.
func TestTheSheetIsTheBoard(t *testing.T) {
	b, problems := configs.ParseBoard("board.yaml", []byte(configs.ExampleBoard))
	if problems != nil {
		t.Fatal(problems)
	}
	if len(b.Healthy) != len(b.Rails) {
		t.Errorf("%d of %d rails have healthy resistances", len(b.Healthy), len(b.Rails))
	}
	scenario := sim.Healthy()
	scenario.TCP = true
	bench := sim.NewBench(new(stepClock), 88, scenario)
	if err := bench.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer bench.Close()
	m := dial(t, bench.Links()[sim.DMM])
	for _, h := range b.Healthy {
		r, _ := b.Rail(h.Rail)
		forward, back := settled(t, bench, m, r.Point, false), settled(t, bench, m, r.Point, true)
		near(t, h.Rail, h.Ohms, forward)
		near(t, h.Rail+", leads exchanged", h.Reversed, back)
		near(t, h.Rail+", its parts", parts(*b, h.Rail), forward)
	}
}

// settled reads a point, without its leads, when the capacitors are charged.
func settled(t *testing.T, bench *sim.Bench, m meter, point string, reversed bool) float64 {
	t.Helper()
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	must(bench.Exchange(sim.DMM, reversed))
	must(bench.Touch(sim.DMM, sim.PointShorted, capture.Clipped))
	leads := m.read()
	must(bench.Touch(sim.DMM, point, capture.Clipped))
	for last, same := 0.0, 0; same < 12; {
		v := m.read()
		if same++; math.Abs(v-last) > 0.0001*math.Abs(v) {
			same = 0
		}
		last = v
	}
	v := m.read() - leads
	must(bench.Lift(sim.DMM))
	return v
}

// parts is what the parts of a rail come to, in parallel.
func parts(b diagnose.Board, rail string) float64 {
	var g float64
	for _, c := range b.Converters {
		if c.Out == rail {
			g += 1 / c.Ohms
		}
		if c.In == rail {
			g += 1 / c.InOhms
		}
	}
	for _, l := range b.Loads {
		if l.Rail == rail {
			g += 1 / l.Ohms
		}
	}
	return 1 / g
}

// near allows one per cent: what two boards of one kind are never closer than.
func near(t *testing.T, what string, sheet, read float64) {
	t.Helper()
	if math.Abs(sheet-read) > 0.01*read {
		t.Errorf("%s: the sheet says %.4g ohm, the board reads %.4g", what, sheet, read)
	}
}
