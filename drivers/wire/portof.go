package wire

// PortOf picks the port of a list that an address leads to. It says false when
// none is there, or when more than one could be meant, and of links on the network,
// which are no ports.
func PortOf(a Address, list []Port) (found Port, ok bool) {
	n := 0
	for _, p := range list {
		if a.means(p) {
			found = p
			n++
		}
	}
	return found, n == 1
}

// OnNetwork reports whether an address leads to another machine, or to a program,
// by TCP.
func (a Address) OnNetwork() bool {
	return a.Kind == KindTCP || a.Kind == KindHiSLIP || a.Kind == KindVXI11
}
