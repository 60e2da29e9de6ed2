package app

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
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
	cold    []coldRail          // rails whose cold check passed; guarded by guardMu
	works   rules.Works         // on the board; guarded by guardMu
	outputs rules.OutputDoubts  // guarded by guardMu
	flows   rules.Flows         // guarded by guardMu
	said    map[string]string   // what was said last of each rail's short; guarded by guardMu

	trimMu sync.Mutex
	trim   trim.Fold // guarded by trimMu

	planMu    sync.Mutex
	plan      job.Regimen     // of the soak; guarded by planMu
	step      rules.StepMeans // levels of its present step; guarded by planMu
	tally     rules.SoakTally // of what failed in a soak; guarded by planMu
	planMay   bool            // a person let it switch since the program began; guarded by planMu
	planTried int             // how often its present step did not reach the instrument; of its owner
	owner     planOwner       // of the plan
	countMu   sync.Mutex      // held while the record is read for it
	count     rules.SoakCount // guarded by countMu
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
	if out.Cold {
		s.job.keepCold(s.job.engine)
	}
	if len(out.Verdicts) > 0 {
		s.job.keepSaid(out.Verdicts)
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
		a.bus.Attach(j.id, guarding{a, j}),
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

// letGo takes a job off the bus and closes its file, whoever asked for it and
// is gone by now. What could not be written is an error once, and no longer a
// trouble of the bench.
func (a *App) letGo(j *openJob) error {
	a.endHandover(j.id)
	j.owner.hold()
	j.detach()
	a.forget(j.id)
	a.forgetWork(j.id)
	ctx, cancel := context.WithTimeout(context.Background(), keepTime)
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
	if _, err := a.endInjections(ctx, j, "close job "+j.id); err != nil {
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
	return dashboards.Result{Job: j.id, At: at, Say: fmt.Sprintf("Job %s is closed.", j.id) + a.nextInHand()}, nil
}
