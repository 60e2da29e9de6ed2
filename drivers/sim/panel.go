package sim

// Panel sets the supply by hand, at its front panel: the volts and amperes of its
// knobs, and its output key. Its protection stays as it is, and whoever is connected
// is not told.
func (b *Bench) Panel(volts, amperes float64, on bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	s := &b.world.supply
	s.vset, s.iset, s.on = volts, amperes, on
	b.world.lookClosely()
}
