package app

import "steadyrail/capture"

// rulesFor returns the configured rules that concern a rail of the sheet.
func (a *App) rulesFor(sheet capture.Sheet) []capture.Rule {
	var out []capture.Rule
	for _, r := range a.o.Config.Rules {
		if _, ok := sheet.Rail(r.Rail); ok {
			out = append(out, r)
		}
	}
	return out
}

// roster describes every instrument of the bench.
func (a *App) roster() capture.Roster {
	var r capture.Roster
	for _, name := range a.order {
		info := a.info(name)
		info.Simulated = a.o.Simulated
		r.Instruments = append(r.Instruments, info)
	}
	r.Instruments = append(r.Instruments, handEntry())
	return r
}

// rosterOf is the roster of an open job: the bench's instruments, and the meters
// without a port that were read for it.
func (a *App) rosterOf(id string) capture.Roster {
	r := a.roster()
	if j, err := a.job(id); err == nil {
		for _, in := range j.book.Roster().Instruments {
			if _, meant := r.Instrument(in.Name); in.Model == handModel && !meant {
				r.Instruments = append(r.Instruments, in)
			}
		}
	}
	return r
}

// freeChannels lists the channels that serve no open job.
func (a *App) freeChannels() []capture.ChannelID {
	var out []capture.ChannelID
	for _, name := range a.order {
		for _, c := range a.info(name).Channels {
			if job, _, _ := a.bus.Where(c.ID); job == "" {
				out = append(out, c.ID)
			}
		}
	}
	return out
}
