package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/capture/poll"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/dashboards/metrics"
	"steadyrail/rules"
	"steadyrail/rules/coverage"
)

type pollState = poll.State

// info returns what is known of an instrument, its identity included when it
// was connected once. The driver itself belongs to its loop's goroutine.
func (a *App) info(name string) capture.InstrumentInfo {
	a.infoMu.Lock()
	defer a.infoMu.Unlock()
	info := a.infos[name]
	info.Channels = slices.Clone(info.Channels)
	return info
}

// learn keeps an instrument's identity and reports whether it is news.
func (a *App) learn(name string, id capture.Identity) bool {
	a.infoMu.Lock()
	defer a.infoMu.Unlock()
	info := a.infos[name]
	if info.Identity == id {
		return false
	}
	info.Identity = id
	a.infos[name] = info
	return true
}

// onState takes a change of an instrument's connection, on its loop's
// goroutine.
func (a *App) onState(s pollState) {
	news := s.Up && a.learn(s.Name, s.Identity)
	a.showProblem(s, s.Problem)
	if a.connectedAnew(s) {
		a.readBackAll(s.Name)
	}
	if news {
		a.bus.Defer(func() { a.postRosters(s.Name) })
	}
	a.tellLink(s)
}

// showProblem puts an instrument on the screens with what is to be said of it.
func (a *App) showProblem(s pollState, problem string) {
	a.table.SetInstrument(live.InstrumentView{Info: a.info(s.Name), Up: s.Up, Problem: problem, Resyncs: s.Resyncs, Doubtful: s.Up && s.Doubtful})
}

// showAsk puts on the screens what a person is asked to do with an instrument
// right now.
func (a *App) showAsk(s pollState, words string) {
	a.table.SetInstrument(live.InstrumentView{Info: a.info(s.Name), Up: s.Up, Problem: words, Resyncs: s.Resyncs, Doubtful: s.Doubtful, Tapping: true})
}

// showAgain shows an instrument as it is.
func (a *App) showAgain(name string) {
	if s, ok := a.pollState(name); ok {
		a.showProblem(s, s.Problem)
	}
}

// postRosters records the bench's instruments anew in each job that one of
// them serves: its identity has become known.
func (a *App) postRosters(instrument string) {
	for _, id := range a.bus.Serves(instrument) {
		if _, err := a.bus.Post(id, a.rosterOf(id)); err != nil {
			a.log.Error().Err(err).Str("job", id).Msg("record the instruments")
		}
	}
}

// onStoreTrouble says when writing fails and when it works again.
func (a *App) onStoreTrouble(t store.Trouble) {
	l := a.log.Warn()
	if t.Err == nil {
		l = a.log.Info()
	}
	l.Err(t.Err).Str("job", t.Job).Int("queued", t.Queued).Msg(troubleWords(t))
	a.troubleMu.Lock()
	a.trouble[t.Job] = t
	a.troubleMu.Unlock()
}

func troubleWords(t store.Trouble) string {
	if t.Err == nil {
		return "the record is being written again"
	}
	return "the record cannot be written: readings wait in memory; make room on the disk"
}

// refreshEvery is how often counters are copied to the live table.
const refreshEvery = time.Second

// refresh copies what nobody announces into the live table: the loops'
// counters, how the notifiers fare, the speed of a simulated clock.
func (a *App) refresh(ctx context.Context) {
	t := time.NewTicker(refreshEvery)
	defer t.Stop()
	for {
		a.refreshOnce()
		select {
		case <-t.C:
		case <-ctx.Done():
			return
		}
	}
}

func (a *App) refreshOnce() {
	a.table.SetSpeed(a.o.Speed())
	for _, l := range a.loops {
		for _, s := range l.Stats() {
			a.table.SetChannel(s.Channel, s.Selected, s.Last.Seconds())
		}
	}
	var views []live.NotifierView
	for _, s := range a.dispatcher.Stats() {
		views = append(views, notifierView(s, time.Now()))
	}
	a.table.SetNotifiers(views)
}

// ready tells why the bench is not ready: an instrument is away, or the record
// cannot be written.
func (a *App) ready() error {
	for _, in := range a.table.Snapshot().Instruments {
		switch {
		case !in.Up:
			return fmt.Errorf("%s is not connected: %s", in.Info.Name, in.Problem)
		case in.Problem != "":
			return fmt.Errorf("%s: %s", in.Info.Name, in.Problem)
		}
	}
	if err := a.damage(); err != nil {
		return err
	}
	a.troubleMu.Lock()
	defer a.troubleMu.Unlock()
	for id, t := range a.trouble {
		if t.Err != nil {
			return fmt.Errorf("the record of job %s cannot be written: %w", id, t.Err)
		}
	}
	return nil
}

func (a *App) dashboardOptions() dashboards.Options {
	return dashboards.Options{
		Bench:        a,
		Token:        a.Token(),
		Hosts:        []string{a.Address()},
		Metrics:      a.metrics.Handler(),
		Ready:        a.ready,
		Faults:       a.o.Faults,
		Hands:        a.o.Hands,
		Done:         a.stopping,
		Plan:         coverage.Plan,
		StandIn:      a.judgeStandIns,
		Limiter:      Limited,
		Isolate:      isolating{a},
		Entries:      a,
		Trim:         a.Trimming,
		Kinds:        rules.Catalogue,
		Soak:         a,
		Cold:         a,
		ColdAged:     a.ColdAged,
		Decimal:      a.o.Config.Decimal,
		StandInsKept: a.keptStandIns,
		Walk:         a,
		Health:       a,
	}
}

// storeStats tells how the file of each open job fares, in order of opening.
func (a *App) storeStats() []metrics.StoreStat {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := make([]metrics.StoreStat, 0, len(a.hand))
	for _, id := range a.hand {
		s := a.jobs[id].file.Stats()
		out = append(out, metrics.StoreStat{Job: id, Bytes: s.Bytes, Queued: s.Queued, Dropped: s.Dropped, Errors: s.Errors})
	}
	return out
}
