package earth_test

import (
	"fmt"
	"os"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/earth"
)

// The four nets of the enumeration. The third lies on the mains side.
var nets = []string{"0 V", "-12 V audio", "bulk minus", "earth"}

var rails = []capture.Rail{
	{Name: "+5 V logic", Nominal: 5, Return: "0 V"},
	{Name: "-12 V audio", Nominal: -12, Return: "0 V"},
	{Name: "+300 V bulk", Nominal: 300, Return: "bulk minus", Side: capture.Mains},
}

// setup is one way for an instrument to stand: up to two leads on nets.
type setup struct {
	port   string // "isolated", "earthed" or ""
	shares bool   // its two lows are one
	sensor bool   // bare sensors instead of leads
	on     []int  // nets, by index
}

// setups lists them. Unless all are wanted, a pair of leads comes in one order, as
// leads, and isolated or earthed: the order, the word for the low and "not
// stated" are seen with single leads.
func setups(all bool) []setup {
	out := []setup{{}}
	for _, port := range []string{"isolated", "earthed", ""} {
		for _, sensor := range []bool{false, true} {
			for a := range nets {
				out = append(out, setup{port, true, sensor, []int{a}})
				for b := range nets {
					if all || a <= b && !sensor && port != "" {
						out = append(out, setup{port, true, sensor, []int{a, b}}, setup{port, false, sensor, []int{a, b}})
					}
				}
			}
		}
	}
	return out
}

func (s setup) instrument(name string) capture.InstrumentInfo {
	in := capture.InstrumentInfo{Name: name, Isolation: capture.Isolation{Port: s.port}}
	if !s.shares {
		in.Isolation.Channels = "isolated"
	}
	q := capture.DCVoltage
	if s.sensor {
		q = capture.Temperature
	}
	for _, input := range []string{"a", "b"} {
		in.Channels = append(in.Channels, capture.ChannelInfo{ID: capture.ChannelID(name + "/" + input), Quantity: q})
	}
	return in
}

func (s setup) placements(name string) []capture.Placement {
	var out []capture.Placement
	for i, on := range s.on {
		p := capture.Placement{Channel: capture.ChannelID(fmt.Sprintf("%s/%c", name, 'a'+i)), Point: "TP", Return: nets[on], Hold: capture.Clipped}
		out = append(out, p)
	}
	return out
}

// shorted is the independent finder: a matrix of who touches whom, closed by
// Warshall's method, and then every pair of nets is looked at. leads counts how
// many leads of each setup are on.
func shorted(all []setup, leads []int) bool {
	const earthNode = 3
	var m [10][10]bool
	join := func(a, b int) { m[a][b], m[b][a] = true, true }
	for i, s := range all {
		for k := 0; k < leads[i]; k++ {
			low := 4 + 2*i
			if !s.shares {
				low += k
			}
			join(low, s.on[k])
			if s.port != "isolated" {
				join(low, earthNode)
			}
		}
	}
	for k := range m {
		for i := range m {
			for j := range m {
				m[i][j] = m[i][j] || m[i][k] && m[k][j]
			}
		}
	}
	return m[0][1] || m[0][2] || m[1][2] || m[2][earthNode]
}

// Three instruments, four nets, every way to stand: what the matrix calls a
// short is refused, and nothing else is. STEADYRAIL_EARTH_ALL=1 asks for every
// order of two leads too, 8.7 million placements, which takes minutes.
func TestThreeInstrumentsOnFourNets(t *testing.T) {
	all := setups(os.Getenv("STEADYRAIL_EARTH_ALL") != "")
	names := []string{"dmm", "logger", "scope"}
	asked, refused := 0, 0
	for i := range all {
		for j := i; j < len(all); j++ {
			for k := j; k < len(all); k++ {
				if testing.Short() && (i+j+k)%16 != 0 {
					continue
				}
				a, r := stand(t, names, []setup{all[i], all[j], all[k]})
				asked, refused = asked+a, refused+r
			}
		}
	}
	if refused == 0 || refused == asked {
		t.Fatalf("%d of %d refused: the enumeration proves nothing", refused, asked)
	}
	t.Logf("%d setups, %d placements asked, %d refused", len(all), asked, refused)
}

// stand puts one lead after the other on, leaves out what was refused, and
// compares every answer.
func stand(t *testing.T, names []string, trio []setup) (asked, refused int) {
	t.Helper()
	b := earth.Board{Rails: rails}
	for i, s := range trio {
		b.Instruments = append(b.Instruments, s.instrument(names[i]))
	}
	on, leads := make([]setup, len(trio)), make([]int, len(trio))
	copy(on, trio)
	for i, s := range trio {
		for n, p := range s.placements(names[i]) {
			if leads[i] != n {
				break // its first lead was refused: the second would take its place
			}
			leads[i]++
			want := shorted(on, leads)
			loop, got := b.Loop(p)
			if asked++; got != want {
				t.Fatalf("%+v after %v: refused %v (%s), the matrix says %v", p, b.Placed, got, loop, want)
			}
			if got {
				refused++
				leads[i]--
				if len(loop.Steps()) < 3 && !loop.To.Earth || loop.From.String() == loop.To.String() {
					t.Fatalf("%+v: a loop without its wires: %q", p, loop.Steps())
				}
				continue
			}
			b.Placed = append(b.Placed, p)
		}
	}
	if l, stands := b.Standing(); stands {
		t.Fatalf("placed one by one, and yet a loop stands: %s", l)
	}
	return asked, refused
}

func drawTrio(t *rapid.T) []setup {
	pick := rapid.SampledFrom(setups(true))
	return []setup{pick.Draw(t, "dmm"), pick.Draw(t, "logger"), pick.Draw(t, "scope")}
}

func boardOf(trio []setup) earth.Board {
	b := earth.Board{Rails: rails}
	for i, s := range trio {
		name := []string{"dmm", "logger", "scope"}[i]
		b.Instruments = append(b.Instruments, s.instrument(name))
		b.Placed = append(b.Placed, s.placements(name)...)
	}
	return b
}

// Taking a lead off never makes a short, and never makes a lead unwelcome.
func TestTakingOffNeverShorts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := boardOf(drawTrio(t))
		if len(b.Placed) == 0 {
			return
		}
		_, before := b.Standing()
		i := rapid.IntRange(0, len(b.Placed)-1).Draw(t, "off")
		less := b
		less.Placed = append(append([]capture.Placement{}, b.Placed[:i]...), b.Placed[i+1:]...)
		if l, after := less.Standing(); after && !before {
			t.Fatalf("without %v a loop stands: %s", b.Placed[i], l)
		}
		if l, refused := b.Loop(capture.Placement{Channel: b.Placed[i].Channel}); refused {
			t.Fatalf("a lead may not come off: %s", l)
		}
	})
}

// Whether a set of leads can stand does not hang on the order in which they go
// on, nor on the order of the instruments.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := boardOf(drawTrio(t))
		_, want := b.Standing()
		order := rapid.Permutation(b.Placed).Draw(t, "order")
		grown := earth.Board{Rails: b.Rails, Instruments: rapid.Permutation(b.Instruments).Draw(t, "instruments")}
		got := false
		for _, p := range order {
			_, refused := grown.Loop(p)
			got = got || refused
			grown.Placed = append(grown.Placed, p)
		}
		if got != want {
			t.Fatalf("%v: in this order %v, all at once %v", order, got, want)
		}
	})
}
