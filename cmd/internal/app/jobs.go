package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/rules"
	"steadyrail/rules/diagnose"
	"steadyrail/rules/discharge"
	"steadyrail/rules/notify"
	"steadyrail/rules/trim"
)

// openJob is a job that is being measured for.
type openJob struct {
	id     string
	file   *store.Job
	book   *job.Book
	engine *rules.Engine // only touched under the bus's lock
	trail  diagnose.Trail
	ends   []func()

	guardMu sync.Mutex
	guard   capture.Protections // guarded by guardMu
	cold    map[string]bool     // rails whose cold check passed; guarded by guardMu

	trimMu sync.Mutex
	trim   trim.Fold // guarded by trimMu

	planMu    sync.Mutex
	plan      job.Regimen     // of the soak; guarded by planMu
	step      rules.StepMeans // levels of its present step; guarded by planMu
	planMay   bool            // a person let it switch since the program began; guarded by planMu
	planTried int             // how often its present step did not reach the instrument; of its owner
	owner     planOwner       // of the plan
	discharge discharge.Watch // of the newest capacitor that is emptied
}

func (j *openJob) detach() {
	for _, end := range j.ends {
		end()
	}
	j.ends = nil
}

// judging is the sink that hands a job's records to its engine and what comes
// out of it to whoever must know, in the order of the record.
type judging struct {
	app *App
	job *openJob
}

// Consume judges a record. It is called under the bus's lock and neither
// blocks nor calls the bus.
func (s judging) Consume(rec capture.Record) {
	out := s.job.engine.Consume(rec)
	for _, t := range out.Transitions {
		s.job.file.Transition(t)
		s.job.fell(t)
		s.app.table.SetTransition(s.job.id, t)
		s.app.metrics.Transition(s.job.id, t)
		s.app.tell(s.job, rec, t)
	}
	s.app.table.SetDerived(s.job.id, out.Derived)
	for _, t := range out.Trips {
		s.app.trip(s.job, t)
	}
	if len(out.Verdicts) > 0 {
		s.job.keepCold(s.job.engine)
		s.app.table.SetVerdicts(s.job.id, out.Verdicts)
	}
}

// tell queues a message about a transition for every notifier that wants it.
func (a *App) tell(j *openJob, rec capture.Record, t capture.Transition) {
	m := a.message(j.id, t)
	if r, ok := j.book.Sheet().Rail(t.Rail); ok {
		m.Rail = r
	}
	if r, ok := rec.Item.(capture.Reading); ok {
		m.Taken = r.Measured
	}
	a.dispatcher.Send(m)
	if !notify.Tells(t) {
		return
	}
	a.metrics.Detected(time.Duration(float64(a.clock.Now().Sub(rec.At)) / a.o.Speed()))
}

// attach puts a job's sinks on the bus: first the file, so that a record is on
// its way to the disk before anything is said about it.
func (a *App) attach(j *openJob) {
	j.ends = append(j.ends,
		a.bus.Attach(j.id, j.file),
		a.bus.Attach(j.id, j.book),
		a.bus.Attach(j.id, &j.trail),
		a.bus.Attach(j.id, guarding{j}),
		a.bus.Attach(j.id, trimming{j}),
		a.bus.Attach(j.id, planning{j}),
		a.bus.Attach(j.id, &j.discharge),
		a.bus.Attach(j.id, judging{a, j}),
	)
	a.mu.Lock()
	defer a.mu.Unlock()
	a.jobs[j.id] = j
	a.hand = append(a.hand, j.id)
}

// resume continues a job that was open when the daemon ended.
func (a *App) resume(ctx context.Context, id string) error {
	file, err := a.workspace.Open(id, a.clock.Now())
	if err != nil {
		return err
	}
	j := &openJob{id: id, file: file, book: new(job.Book)}
	past, err := a.refold(ctx, j)
	if err == nil {
		a.catchUp(id, past.After)
		err = a.bus.Seed(id, past)
	}
	if err != nil {
		return errors.Join(err, file.Close(ctx))
	}
	a.attach(j)
	a.log.Info().Str("job", id).Msg("continued")
	return nil
}

// catchUp puts a clock that stands before the end of a job's record ahead: rules
// would stand still until it came there by itself.
func (a *App) catchUp(id string, end capture.Instant) {
	clock, ok := a.clock.(interface {
		Advance(capture.Instant) time.Duration
	})
	if !ok {
		return
	}
	if by := clock.Advance(end); by > clockParts {
		a.log.Warn().Str("job", id).Str("behind", by.Round(time.Second).String()).Msg("the computer's clock stands before the record's end: the record goes on from there; set the clock and start again")
	}
}

// refold brings the folds of a stored job, its engine and the live table to
// where they were when the daemon ended.
func (a *App) refold(ctx context.Context, j *openJob) (bus.Past, error) {
	past := bus.Past{Ordinals: map[capture.ChannelID]uint64{}}
	records := func(yield func(capture.Record) error) error { return j.file.Records(ctx, 0, 0, yield) }
	engine, transitions, err := rules.Resume(ctx, "", func(yield func(capture.Record) error) error {
		return records(func(rec capture.Record) error {
			j.book.Consume(rec)
			j.guard.Consume(rec)
			j.trim.Consume(rec)
			j.trail.Consume(rec)
			j.plan.Consume(rec)
			j.step.Consume(rec)
			j.discharge.Consume(rec)
			past.After = rec.At
			if r, ok := rec.Item.(capture.Reading); ok {
				past.Ordinals[r.Channel] = r.Ordinal
			} else {
				a.table.Consume(rec)
				past.Records = append(past.Records, rec)
			}
			return yield(rec)
		})
	}, 0)
	if err != nil {
		return past, err
	}
	for _, t := range transitions {
		j.step.Fell(t)
	}
	j.engine = engine
	j.keepCold(engine)
	for _, t := range transitions {
		a.table.SetTransition(j.id, t)
	}
	a.table.SetVerdicts(j.id, engine.Verdicts())
	a.table.SetDerived(j.id, engine.Figures())
	return past, nil
}

// openStandingJob opens the job that the configuration names, when it is not
// there yet.
func (a *App) openStandingJob(ctx context.Context) error {
	c := a.o.Config.Job
	if c == nil {
		return nil
	}
	if _, err := a.job(c.Name); err == nil {
		return nil
	}
	_, err := a.OpenJob(ctx, capture.Sheet{Job: c.Name, Rails: c.Rails, Set: c.Set, Board: c.Board})
	return err
}

// OpenJob opens a job: makes its file, records what is known, and takes every
// channel that serves no other job into it, on no rail yet. What can be checked
// is checked before: a file would keep the name of a job that never was.
func (a *App) OpenJob(ctx context.Context, sheet capture.Sheet) (dashboards.Result, error) {
	sheet.Bench = a.o.Config.Bench
	sheet.Simulated = a.o.Simulated
	a.changing.RLock()
	defer a.changing.RUnlock()
	roster := a.roster()
	set := capture.RuleSet{Rules: rules.Written(rules.Implied(sheet, roster), a.rulesFor(sheet)), Formulas: a.config().Formulas, Engine: rules.Version}
	if err := checkBoard(sheet, set); err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "open job " + sheet.Job, Err: err}
	}
	file, err := a.workspace.Create(sheet)
	if err != nil {
		return dashboards.Result{}, problem("open job "+sheet.Job, err)
	}
	j := &openJob{id: sheet.Job, file: file, book: new(job.Book), engine: rules.New("")}
	a.attach(j)
	ats, err := a.bus.PostAll(j.id, job.OpenItems(sheet, roster, set, a.freeChannels(), sheet.Technician)...)
	if err != nil {
		a.drop(j)
		return dashboards.Result{}, problem("open job "+sheet.Job, err)
	}
	a.tellLosses(j)
	a.settle(ctx, j)
	return dashboards.Result{Job: j.id, At: ats[0], Say: fmt.Sprintf("Job %s is open with %s.", j.id, counted(len(sheet.Rails), "rail", "rails")) + a.wasHere(ctx, sheet)}, nil
}

// tellLosses tells a job that opens which instruments are away: it was not there
// when their links were lost, and an alarm of it could name neither who answers
// instead nor who was meant.
func (a *App) tellLosses(j *openJob) {
	for _, loop := range a.loops {
		if err := loop.TellLosses(j.id); err != nil {
			a.log.Error().Err(err).Str("job", j.id).Str("link", loop.Link()).Msg("record which instruments are away")
		}
	}
}

// settle has the sheet on the disk before anyone is told that the job is open:
// after a kill within the first second a file without one would be left, whose
// job has no rails and whose name is taken. A disk that cannot be written is
// the store's to tell; the job goes on in memory.
func (a *App) settle(ctx context.Context, j *openJob) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if err := j.file.Sync(ctx); err != nil {
		a.log.Warn().Err(err).Str("job", j.id).Msg("the opening is not on the disk yet")
	}
}

// checkBoard finds rails that make no sense, two of one name, and rules that do
// not fit them.
func checkBoard(sheet capture.Sheet, set capture.RuleSet) error {
	seen := map[string]bool{}
	for _, r := range sheet.Rails {
		if err := r.Validate(); err != nil {
			return err
		}
		if seen[r.Name] {
			return fmt.Errorf("two rails are called %s: give one another name", r.Name)
		}
		seen[r.Name] = true
	}
	return errors.Join(rules.Check(sheet, set)...)
}

// drop gives up a job that could not be opened: its name is free again.
func (a *App) drop(j *openJob) {
	a.bus.Withdraw(j.id)
	a.table.Forget(j.id)
	err := a.letGo(j)
	if err == nil {
		err = a.workspace.Discard(j.id)
	}
	if err != nil {
		a.log.Error().Err(err).Str("job", j.id).Msg("give up a job that could not be opened")
	}
}

// letGo takes a job off the bus and closes its file, whoever asked for it and
// is gone by now. What could not be written is an error once, and no longer a
// trouble of the bench.
func (a *App) letGo(j *openJob) error {
	a.endHandover(j.id)
	j.owner.hold()
	j.detach()
	a.forget(j.id)
	a.forgetWork(j.id)
	ctx, cancel := context.WithTimeout(context.Background(), stopTime)
	defer cancel()
	err := j.file.Close(ctx)
	a.troubleMu.Lock()
	defer a.troubleMu.Unlock()
	delete(a.trouble, j.id)
	return err
}

func (a *App) forget(id string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.jobs, id)
	a.hand = slices.DeleteFunc(a.hand, func(s string) bool { return s == id })
}

// forgetWork lets go of what is kept in memory of a job that is not open any more.
func (a *App) forgetWork(id string) {
	a.walks.forget(id)
	a.returns.forget(id)
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// rulesFor returns the configured rules that concern a rail of the sheet.
func (a *App) rulesFor(sheet capture.Sheet) []capture.Rule {
	return concerning(a.config().Rules, sheet)
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

// job returns an open job; an empty id is the one in hand.
func (a *App) job(id string) (*openJob, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if id == "" {
		if len(a.hand) == 0 {
			return nil, &dashboards.Error{Kind: dashboards.NotFound, Detail: "no job is open", Hint: `open one: steadyrail job open AB-0147 --rails "+5 2%, +12 5%"`}
		}
		id = a.hand[len(a.hand)-1]
	}
	if j := a.jobs[id]; j != nil {
		return j, nil
	}
	return nil, &dashboards.Error{Kind: dashboards.NotFound, Detail: "job " + id + " is not open", Hint: jobListHint}
}

// close ends a job: its last record is the act, then the file is let go.
func (a *App) close(ctx context.Context, j *openJob, act capture.Act) (dashboards.Result, error) {
	j.owner.hold() // what a plan switched after the last record would stand nowhere
	if err := a.endBeforeClose(ctx, j); err != nil {
		j.owner.goOn()
		return dashboards.Result{}, err
	}
	a.endHandover(j.id)
	at, err := a.bus.Post(j.id, act)
	if err != nil {
		j.owner.goOn()
		return dashboards.Result{}, problem("close job "+j.id, err)
	}
	if err := a.letGo(j); err != nil {
		return dashboards.Result{}, problem("close job "+j.id, err)
	}
	return dashboards.Result{Job: j.id, At: at, Say: fmt.Sprintf("Job %s is closed.", j.id)}, nil
}
