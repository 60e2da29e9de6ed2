package wire

import "path/filepath"

// whereabouts says what the address and the system tell of the far end. An
// adapter's serial number counts only if no other adapter here has the same.
func whereabouts(a Address) Whereabouts {
	if kinds()[a.Kind].lan {
		return Whereabouts{Path: a.Place()}
	}
	if real, err := filepath.EvalSymlinks(a.Path); err == nil && a.VID == "" {
		a.Path = real // whatever name of it was written
	}
	list, err := found()
	if err != nil {
		return Whereabouts{}
	}
	return whereaboutsIn(a, list)
}

func whereaboutsIn(a Address, list []Port) Whereabouts {
	for _, p := range list {
		if !a.means(p) {
			continue
		}
		w := Whereabouts{Path: p.Stable}
		if w.Path == "" {
			w.Path = p.Socket
		}
		if p.Serial != "" && p.Link == p.byIDs()+":"+p.ids() {
			w.Adapter = p.ids()
		}
		return w
	}
	return Whereabouts{}
}
