package sim

import "fmt"

// Truth returns what something really is now. It is for tests, which hold what
// the instruments said against it, and must never feed anything that is said
// to a person. Names: every electric point and rail name in volt; "stand-in
// case" and "room" in degrees Celsius; "supply on" (1 or 0), "supply volts", "supply amperes",
// "trimmer" in turns, "stand-in amperes", "stand-in restarts" since the
// beginning, "input joint" in ohm.
func (b *Bench) Truth(name string) (float64, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	w := b.world
	if n, isPoint := electricPoints[name]; isPoint {
		if n < 0 {
			return 0, nil
		}
		return w.last[n], nil
	}
	switch name {
	case PointCase:
		return w.last[nCase], nil
	case PointRoom:
		return w.last[nRoom], nil
	case "supply on":
		return map[bool]float64{true: 1}[w.supply.on], nil
	case "supply volts":
		return w.last[nSupply], nil
	case "supply amperes":
		return w.last[nAmps], nil
	case "trimmer":
		return w.standIn.trim.wiper, nil
	case "stand-in amperes":
		return w.standIn.i, nil
	case "stand-in restarts":
		return float64(w.standIn.starts), nil
	case "input joint":
		return w.jointOhms(), nil
	}
	return 0, fmt.Errorf("no truth about %q", name)
}

// TruthOhms returns the resistance from a rail's point to the return with no
// power, settled, without leads and contact. For tests only, like [Bench.Truth].
func (b *Bench) TruthOhms(point string) (float64, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	w := b.world
	n, err := pointNode(point)
	if err != nil {
		return 0, err
	}
	switch {
	case n < 0:
		return 0, nil
	case n == nPin && !w.in[PS2]:
		return w.scenario.Short, nil
	case n == nOut && !w.in[StandIn]:
		return 1 / ownBleed, nil
	case n == n5 || n == nPin || n == nOut:
		_, g := w.rail5()
		return 1 / g, nil
	case n == n12:
		return rail12Ohms, nil
	case n == nm12:
		return minus12Ohms, nil
	case n == n3:
		return rail3Ohms, nil
	case n == n24:
		return bulkOhms, nil
	}
	return 0, fmt.Errorf("no resistance is known at %q", point)
}

// Resets returns how many *RST commands the instruments have received: a real
// supply goes off at one, so a test wants none. For tests only.
func (b *Bench) Resets() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	sum := 0
	for _, name := range Instruments() {
		sum += b.device(name).resets
	}
	return sum
}
