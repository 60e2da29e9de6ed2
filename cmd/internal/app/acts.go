package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/poll"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/rules"
)

// Place records that a channel stands on a rail, at a point or on nothing from
// now on. The channel of a shared input is selected first: until the meter is
// set, nothing it says belongs to the rail.
func (a *App) Place(ctx context.Context, id string, p capture.Placement) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	what := fmt.Sprintf("place %s", p.Channel)
	if !a.known(p.Channel) {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": there is no such channel", Hint: "channels: " + a.channelNames()}
	}
	p = inFull(j, p)
	cautions, err := a.mayStand(j, p)
	if err != nil {
		return dashboards.Result{}, err
	}
	caution := firstTime(j, p, cautions)
	if p.Corrects == 0 && (p.Rail != "" || p.Point != "") {
		if err := a.mayMeasure(j, p); err != nil {
			return dashboards.Result{}, err
		}
		if err := a.mayCount(p); err != nil {
			return dashboards.Result{}, err
		}
		if loop := a.loopOf[p.Channel.Instrument()]; loop != nil {
			if err := loop.Select(ctx, p.Channel); err != nil {
				return dashboards.Result{}, problem(what, err)
			}
		}
	}
	if p.Corrects == 0 {
		p.Why = a.holdRange(ctx, j, p)
	}
	if p.By == "" {
		p.By = j.book.Sheet().Technician
	}
	at, err := a.bus.Post(j.id, p)
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: j.id, At: at, Say: placed(p) + a.bareSensor(p) + caution + a.unconfirmed(p)}, nil
}

func placed(p capture.Placement) string {
	switch {
	case p.Corrects != 0:
		return fmt.Sprintf("%s: the earlier placement is corrected to %s; both stay in the record.", p.Channel, where(p))
	case p.Rail == "" && p.Point == "":
		return fmt.Sprintf("%s is on nothing now.", p.Channel)
	}
	return fmt.Sprintf("%s is on %s, %s.", p.Channel, where(p), p.Hold)
}

func where(p capture.Placement) string {
	switch {
	case p.Rail != "" && p.Point != "":
		return p.Rail + " at " + p.Point
	case p.Rail != "":
		return p.Rail
	case p.Point != "":
		return p.Point
	}
	return "nothing"
}

// mayMeasure refuses a second channel of the same quantity on a rail, for then
// nobody could say which of the two a figure is, and a supply's own voltage,
// which is taken at the supply: an ampere through the leads may be the whole band.
func (a *App) mayMeasure(j *openJob, p capture.Placement) error {
	ch, _ := a.channel(p.Channel)
	if p.Rail == "" {
		return nil
	}
	if ch.Setpoint && ch.Quantity == capture.DCVoltage {
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("place %s on %s: a supply's own reading is taken at the supply, not on the rail, and proves nothing about it", p.Channel, p.Rail),
			Hint: "put it on a point instead: --point \"into the stand-in\" without a rail",
		}
	}
	places := j.book.Placements()
	for _, other := range places.Channels() {
		if o, known := a.channel(other); !known || other == p.Channel || o.Quantity != ch.Quantity {
			continue
		}
		if at, _, _ := places.Now(other); at.Rail == p.Rail {
			return &dashboards.Error{
				Kind: dashboards.Conflict, Detail: fmt.Sprintf("place %s on %s: %s is on it already, and two would be told apart by nobody", p.Channel, p.Rail, other),
				Hint: fmt.Sprintf("take that one off first: steadyrail place %s", other),
			}
		}
	}
	return nil
}

// channel describes a channel of the bench.
func (a *App) channel(id capture.ChannelID) (capture.ChannelInfo, bool) {
	for _, c := range a.info(id.Instrument()).Channels {
		if c.ID == id {
			return c, true
		}
	}
	return capture.ChannelInfo{}, false
}

// Act carries out and records what a person does.
func (a *App) Act(ctx context.Context, id string, act capture.Act) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil && act.Verb == capture.ActOutput && act.Text == "off" {
		return a.offAnyway(ctx, act, err)
	}
	if err != nil {
		return dashboards.Result{}, err
	}
	if err := a.mayAct(act); err != nil {
		return dashboards.Result{}, err
	}
	if err := a.makesSense(j, act); err != nil {
		return dashboards.Result{}, err
	}
	if err := turned(j, &act); err != nil {
		return dashboards.Result{}, err
	}
	if act.By == "" {
		act.By = j.book.Sheet().Technician
	}
	if err := j.book.Check(act); err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	if act.Verb == capture.ActSoak && act.Text == "start" {
		if err := maySoak(j); err != nil {
			return dashboards.Result{}, err
		}
	}
	var ended []string
	switch act.Verb {
	case capture.ActClose:
		return a.close(ctx, j, act)
	case capture.ActStage:
		if ended, err = a.endInjections(ctx, j, "enter "+string(act.Stage)); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActHeard, capture.ActReset:
		return a.answer(j, act)
	case capture.ActMute:
		if err := a.mayMute(j, act); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActMark, capture.ActTrimmer:
		if err := a.setting(j, &act); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActTap:
		return a.tap(ctx, j, act)
	case capture.ActTake:
		return a.take(ctx, j, act)
	case capture.ActOutput, capture.ActInput, capture.ActLimits:
		if err := a.maySource(j, act); err != nil {
			return dashboards.Result{}, err
		}
		return a.carryOut(ctx, j, act)
	}
	beside := cautionsOf(j, act)
	at, err := a.bus.Post(j.id, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	say := job.Entry(act) + endedFirst(ended) + beside
	if act.Verb == capture.ActSoak && act.Text == "start" {
		say += a.soakNotes(j, time.Duration(act.Value*float64(time.Second)))
	}
	return dashboards.Result{Job: j.id, At: at, Say: say + a.kept(ctx, j, act)}, nil
}

// carryOut has an instrument do something and records what it confirmed.
func (a *App) carryOut(ctx context.Context, j *openJob, act capture.Act) (dashboards.Result, error) {
	say, err := a.onInstrument(ctx, j, act)
	if err != nil {
		return dashboards.Result{}, err
	}
	at, err := a.postDone(j, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	switch {
	case act.Verb == capture.ActOutput && act.Text == "off":
		a.injections.over(act.Subject)
	case act.Verb == capture.ActLimits:
		say += a.doubtElsewhere(j, act)
	}
	return dashboards.Result{Job: j.id, At: at, Say: say}, nil
}

// maySoak refuses a soak that nobody would watch: rules about time are armed in
// a stage under power, on clipped probes.
func maySoak(j *openJob) error {
	if stage, _ := j.book.Stage(); stage != capture.Soak {
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("start a soak: the job is in %s, and a soak is counted in the stage soak only", stage),
			Hint: `enter the soak first: steadyrail job stage soak, with --why when stages are skipped`,
		}
	}
	places := j.book.Placements()
	for _, ch := range places.Channels() {
		if p, _, _ := places.Now(ch); p.Rail != "" && p.Hold == capture.Clipped {
			return nil
		}
	}
	return &dashboards.Error{
		Kind: dashboards.Refused, Detail: "start a soak: no probe is clipped to a rail, and only clipped probes are watched",
		Hint: `clip one: steadyrail place dmm/volts "+5 V logic" --clipped`,
	}
}

// answer hears alarms or resets their latches. A subject that means nothing is
// refused: a mistyped name would leave the alarm unheard and nobody the wiser.
func (a *App) answer(j *openJob, act capture.Act) (dashboards.Result, error) {
	open := a.openAlarms(j, act.Subject)
	if len(open) == 0 && !means(j.book, act.Subject) {
		hint := "no alarm is open"
		if all := a.openAlarms(j, ""); len(all) > 0 {
			hint = "open alarms: " + strings.Join(all, ", ")
		}
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("%s: %q is no open alarm of job %s", act.Verb, act.Subject, j.id), Hint: hint}
	}
	at, err := a.bus.Post(j.id, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	say := job.Entry(act)
	switch {
	case len(open) == 0 && j.awakens(act):
		say = fmt.Sprintf("A key was pressed: the count of %q begins anew.", act.Subject)
	case len(open) == 0:
		say = fmt.Sprintf("No alarm of %s is open.", act.Subject)
	case act.Verb == capture.ActReset && len(a.openAlarms(j, act.Subject)) > 0:
		say = fmt.Sprintf("%s has not gone: its latch can be reset when it has.", act.Subject)
	}
	return dashboards.Result{Job: j.id, At: at, Say: say}, nil
}

// awakens reports whether an answer says that a key was pressed on a meter that
// might have switched itself off, see kind auto-off.
func (j *openJob) awakens(act capture.Act) bool {
	return act.Verb == capture.ActHeard && slices.ContainsFunc(j.book.Rules().Rules, func(r capture.Rule) bool { return r.Name == act.Subject && r.Kind == "auto-off" })
}

// means reports whether a subject is a rail or a rule of the job.
func means(b *job.Book, subject string) bool {
	_, isRail := b.Sheet().Rail(subject)
	return isRail || slices.ContainsFunc(b.Rules().Rules, func(r capture.Rule) bool { return r.Name == subject })
}

// openAlarms names the open alarms that a subject means: an alarm, a rule, a
// rail, or everything when it is empty.
func (a *App) openAlarms(j *openJob, subject string) []string {
	var out []string
	view, _ := a.Snapshot().Job(j.id)
	for _, t := range view.Alarms {
		if subject == "" || subject == t.Alarm || subject == t.Rule || subject == t.Rail {
			out = append(out, t.Alarm)
		}
	}
	return out
}

// onInstrument has an instrument do something before it is recorded: the
// record says what was confirmed, not what was asked.
//
// An output that is about to go off is announced first, unless the instrument
// may not switch it: what falls between the command and its confirmation is no
// collapse.
func (a *App) onInstrument(ctx context.Context, j *openJob, act capture.Act) (string, error) {
	loop := a.loopOf[act.Instrument()]
	if loop == nil {
		return "", a.noInstrument(string(act.Verb), act.Instrument())
	}
	off := act.Verb == capture.ActOutput && act.Text == "off"
	announces := off && slices.Contains(a.info(act.Instrument()).Acts, string(act.Verb))
	if announces {
		announced := act
		announced.Text = rules.SwitchingOff
		if _, err := a.postOutput(j, announced); err != nil {
			return "", problem("output of "+act.Subject, err)
		}
	}
	asked := time.Now()
	say, err := loop.Do(ctx, act.Instrument(), act)
	if err != nil {
		what := fmt.Sprintf("%s of %s", act.Verb, act.Subject)
		if announces {
			err = errors.Join(err, a.takeBack(j, act))
		}
		return "", problem(what, err)
	}
	delay := time.Since(asked)
	if off {
		a.metrics.SwitchedOff(delay)
	}
	return fmt.Sprintf("%s, confirmed after %.1f ms.", strings.TrimSuffix(say, "."), delay.Seconds()*1000), nil
}

// takeBack takes an announcement back: nothing confirmed that the output is
// off, so the rules watch again.
func (a *App) takeBack(j *openJob, act capture.Act) error {
	act.Text = rules.NotConfirmed
	_, err := a.postOutput(j, act)
	return err
}

func (a *App) known(ch capture.ChannelID) bool {
	_, ok := a.channel(ch)
	return ok
}

func (a *App) channelNames() string {
	out := ""
	for _, name := range a.order {
		for _, c := range a.info(name).Channels {
			if out != "" {
				out += ", "
			}
			out += string(c.ID)
		}
	}
	return out
}

// problem sorts errors of the rooms into what the one who asked can do.
func problem(what string, err error) error {
	kinds := []struct {
		is   error
		kind dashboards.Kind
	}{
		{capture.ErrJobID, dashboards.Invalid},
		{store.ErrExists, dashboards.Conflict},
		{store.ErrNoJob, dashboards.NotFound},
		{bus.ErrNoJob, dashboards.NotFound},
		{bus.ErrClosed, dashboards.Conflict},
		{bus.ErrServesOther, dashboards.Conflict},
		{bus.ErrNoRail, dashboards.NotFound},
		{bus.ErrNoPlacement, dashboards.NotFound},
		{bus.ErrNotPostable, dashboards.Invalid},
		{job.ErrBadAct, dashboards.Invalid},
		{job.ErrNeedsReason, dashboards.Refused},
		{job.ErrNotNow, dashboards.Conflict},
		{drivers.ErrNotAllowed, dashboards.NotAllowed},
		{drivers.ErrRefused, dashboards.Refused},
		{poll.ErrDown, dashboards.Unavailable},
		{poll.ErrStopped, dashboards.Unavailable},
		{poll.ErrReplugged, dashboards.Unavailable},
		{drivers.ErrTimeout, dashboards.Unavailable},
		{drivers.ErrGarbled, dashboards.Unavailable},
		{drivers.ErrInDoubt, dashboards.Unavailable},
		{drivers.ErrGone, dashboards.Unavailable},
		{drivers.ErrMismatch, dashboards.Unavailable},
	}
	for _, k := range kinds {
		if errors.Is(err, k.is) {
			return &dashboards.Error{Kind: k.kind, Detail: what, Err: err}
		}
	}
	return &dashboards.Error{Detail: what, Err: err}
}
