package app

import (
	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/rules"
)

// ruleSet is what a job of that sheet is judged by under a configuration, when it
// is opened and after a reload.
func ruleSet(c *configs.Config, sheet capture.Sheet, roster capture.Roster) capture.RuleSet {
	return capture.RuleSet{Rules: rules.Written(rules.Implied(sheet, roster), concerning(c.Rules, sheet)), Formulas: c.Formulas, Engine: rules.Version}
}

// concerning are the rules that concern a rail of the sheet.
func concerning(list []capture.Rule, sheet capture.Sheet) (out []capture.Rule) {
	for _, r := range list {
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
