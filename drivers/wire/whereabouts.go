package wire

// whereabouts says what the address and the system tell of the far end. An
// adapter's serial number counts only if no other adapter here has the same.
func whereabouts(a Address) Whereabouts {
	if a.Kind == KindTCP {
		return Whereabouts{Path: a.Place()}
	}
	list, err := Ports()
	if err != nil {
		return Whereabouts{}
	}
	return whereaboutsIn(a, list)
}

func whereaboutsIn(a Address, list []Port) Whereabouts {
	same := func(p Port) bool {
		if a.Kind == KindUSB {
			return p.VID == a.VID && p.PID == a.PID && (a.Serial == "" || p.Serial == a.Serial)
		}
		return p.Name == a.Path || p.Stable == a.Path
	}
	for _, p := range list {
		if !same(p) {
			continue
		}
		w := Whereabouts{Path: p.Stable}
		if p.Serial != "" && p.Link == KindUSB+":"+p.VID+":"+p.PID+":"+p.Serial {
			w.Adapter = p.VID + ":" + p.PID + ":" + p.Serial
		}
		return w
	}
	return Whereabouts{}
}
