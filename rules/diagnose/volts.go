package diagnose

import "slices"

// What a rail does, as probabilities of off, fed, low, right, high, restarting
// (the project's choice). A slow meter shows a restart train as a calm low
// voltage, so a low reading never speaks against restarting.
var (
	isOff       = []float64{0.95, 0.05, 0, 0, 0, 0}
	isDragged   = []float64{0.55, 0.20, 0.05, 0, 0, 0.20} // into a short
	isStarved   = []float64{0.05, 0.15, 0.40, 0.15, 0, 0.25}
	isStretched = []float64{0.05, 0.15, 0.15, 0.40, 0, 0.25} // as isStarved, without the need of headroom
	isOverload  = []float64{0, 0.15, 0.40, 0.02, 0, 0.43}
	isSagging   = []float64{0.02, 0.20, 0.70, 0.05, 0, 0.03}
	isRelieved  = []float64{0, 0.10, 0.40, 0.48, 0, 0.02} // overloaded or sagging, with part of the load off
	isRight     = []float64{0, 0, 0.01, 0.98, 0.01, 0}
	isHigh      = []float64{0, 0, 0, 0.05, 0.95, 0}
	isLeaked    = []float64{0, 0.01, 0.10, 0.87, 0, 0.02}
)

// volts predicts what a rail does under power.
func (b Board) volts(rail string, f bunch, off stand, hot bool) []float64 {
	return b.voltsVia(rail, f, off, hot, len(b.Rails))
}

// voltsVia goes at most deep rails up, so that no sheet can make it run on.
func (b Board) voltsVia(rail string, f bunch, off stand, hot bool, deep int) []float64 {
	for _, s := range b.Sources {
		if s.Rail == rail {
			return b.atSource(s, f, off)
		}
	}
	c, made := b.feeder(rail)
	if !made || off.without(c.Name) || deep == 0 {
		return isOff
	}
	in := b.voltsVia(c.In, f, off, hot, deep-1)
	own, low := b.made(c, f, off, hot), b.starved(c)
	dead, thin := in[0]+in[1], in[2]+in[5]
	out := make([]float64, len(own))
	for z := range own {
		starved := own[z]
		if own[3] > 0.5 {
			starved = low[z]
		}
		out[z] = float64(dead*isOff[z]) + float64(thin*starved) + float64((1-dead-thin)*own[z])
	}
	return out
}

func (b Board) atSource(s Source, f bunch, off stand) []float64 {
	switch {
	case f.has(s.Name, GivesNothing):
		return isOff
	case b.pulled(s.Rail, f, off, Shorted):
		return isDragged
	case f.has(s.Name, Sags) && b.relieved(s.Rail, off):
		return isRelieved
	case f.has(s.Name, Sags), b.pulled(s.Rail, f, off, Overloads):
		return isSagging
	}
	return isRight
}

// made is what a converter makes of a good input.
func (b Board) made(c Converter, f bunch, off stand, hot bool) []float64 {
	switch {
	case f.has(c.Name, GivesNothing), f.has(c.Name, NotEnabled), f.has(c.Name, InductorOpen), hot && f.has(c.Name, StopsHot):
		return isOff
	case f.has(c.Name, Shorted), b.pulled(c.Out, f, off, Shorted):
		return isDragged
	case f.has(c.Name, Weak) && b.relieved(c.Out, off) && b.loaded(c.Out, f, off):
		return isRelieved
	case f.has(c.Name, Weak) && b.loaded(c.Out, f, off), b.pulled(c.Out, f, off, Overloads):
		return isOverload
	case f.has(c.Name, High):
		return isHigh
	case b.pulled(c.Out, f, off, Leaky):
		return isLeaked
	}
	return isRight
}

// pulled reports whether a load or capacitor attached to the rail has the fault.
func (b Board) pulled(rail string, f bunch, off stand, k Kind) bool {
	for _, l := range b.Loads {
		if l.Rail == rail && f.has(l.Name, k) && attached(l, f, off) {
			return true
		}
	}
	for _, c := range b.Capacitors {
		if c.Rail == rail && f.has(c.Name, k) && !off.without(c.Name) {
			return true
		}
	}
	return false
}

// relieved reports whether part of what the rail feeds, however far down, is off.
func (b Board) relieved(rail string, off stand) bool {
	for _, part := range off {
		for _, r := range b.railsOf(part) {
			_, is := b.converter(part)
			if slices.Contains(b.chain(r), rail) && (is && r != rail || slices.Contains(b.Connectors(), part)) {
				return true
			}
		}
	}
	return false
}

// loaded reports whether anything draws from the rail.
func (b Board) loaded(rail string, f bunch, off stand) bool {
	for _, l := range b.Loads {
		if l.Rail == rail && attached(l, f, off) {
			return true
		}
	}
	for _, c := range b.Converters {
		if c.In == rail && !off.without(c.Name) {
			return true
		}
	}
	return false
}

// sourceAlone predicts whether a rail's source carries a dummy load with the
// rail's connectors off: a weak one does not, whatever hangs on it.
func (b Board) sourceAlone(rail string, f bunch, off stand) []float64 {
	off = off.remove(b.connectorsOn(rail)...)
	if c, made := b.feeder(rail); made && f.has(c.Name, Weak) {
		return []float64{0.05, 0.95}
	}
	right := b.volts(rail, f, off, false)[3]
	return []float64{right, 1 - right}
}

func (b Board) connectorsOn(rail string) []string {
	var out []string
	for _, l := range b.Loads {
		if l.Rail == rail && l.Connector != "" {
			out = append(out, l.Connector)
		}
	}
	return out
}

// behind predicts whether a connector's far side has its voltage.
func (b Board) behind(connector string, f bunch, off stand) []float64 {
	p := 1.0
	for _, l := range b.Loads {
		if l.Connector == connector {
			v := b.volts(l.Rail, f, off, false)
			p = min(p, float64(0.5*v[2])+v[3]+v[4])
		}
	}
	if f.has(connector, ConnectorOpen) {
		p = 0.02
	}
	return []float64{p, 1 - p}
}
