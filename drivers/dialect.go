package drivers

import (
	"sort"

	"steadyrail/drivers/scpi"
)

// dialects is the table of what instruments speak. A new one is a room of its
// own and a line here.
var dialects = map[string]func(build) (Instrument, error){
	"scpi": func(b build) (Instrument, error) {
		return opened(scpi.New(scpi.Options{
			Info: b.info, Plan: b.model.Plan, Expect: b.cfg.Expect, Every: b.cfg.Every,
			OffExit: b.cfg.OnExit == ExitOff, Dial: b.dial, Baud: b.baud,
		}))
	},
}

// opened keeps a nil driver from becoming an instrument that is not nil.
func opened[T Instrument](in T, err error) (Instrument, error) {
	if err != nil {
		return nil, err
	}
	return in, nil
}

func dialectNames() []string {
	var out []string
	for name := range dialects {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}
