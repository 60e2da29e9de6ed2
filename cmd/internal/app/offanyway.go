package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// offAnyway switches an output off that was asked for in no open job: off must
// always be possible. What jobs it concerns hold it; with none nothing but the
// log does, and the one who asked is told.
func (a *App) offAnyway(ctx context.Context, act capture.Act, noJob error) (dashboards.Result, error) {
	if err := a.mayAct(act); err != nil {
		return dashboards.Result{}, err
	}
	loop := a.loopOf[act.Instrument()]
	if loop == nil {
		return dashboards.Result{}, a.noInstrument(string(act.Verb), act.Instrument())
	}
	announced := act
	announced.Text = capture.SwitchingOff
	may := slices.Contains(a.info(act.Instrument()).Acts, string(act.Verb))
	if may {
		a.share(nil, announced)
	}
	say, err := loop.Do(ctx, act.Instrument(), act)
	if err != nil {
		if announced.Text = capture.NotConfirmed; may {
			a.share(nil, announced)
		}
		return dashboards.Result{}, problem(fmt.Sprintf("%s of %s", act.Verb, act.Subject), err)
	}
	a.share(nil, act)
	a.injections.over(act.Subject)
	a.log.Info().Str("output", act.Subject).Msg("switched off outside of a job")
	return dashboards.Result{Say: fmt.Sprintf("%s. No record of its own holds it: %v.", strings.TrimSuffix(say, "."), noJob)}, nil
}
