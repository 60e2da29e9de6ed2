package app

import (
	"context"
	"errors"
	"os"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/awake"
	"steadyrail/cmd/internal/doctor"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/drivers/wire"
	"steadyrail/rules"
)

// Examined is a bench of this computer, to be looked at: for the command, and for
// the page of a daemon. Config, File, Problems, Workspace and Daemon are left to
// whoever knows them.
func Examined(version string) doctor.Bench {
	return doctor.Bench{
		Version: version, Rules: rules.Version,
		Now: time.Now, Ports: wire.Ports, Clock: ClockKept, Free: store.FreeSpace, Inhibit: awake.Inhibit,
	}
}

// fresh is how long what was found serves whoever asks next, in the computer's
// time: a look verifies records and waits for the disk.
const fresh = 5 * time.Second

// looking is one look after the other, and what the newest found.
type looking struct {
	mu   sync.Mutex
	at   time.Time
	last web.Health
}

// Health looks at the whole bench, as the command doctor does. One look goes on at
// a time; who asks meanwhile gets what it found.
func (a *App) Health(ctx context.Context) (web.Health, error) {
	a.looking.mu.Lock()
	defer a.looking.mu.Unlock()
	if !a.looking.at.IsZero() && time.Since(a.looking.at) < fresh {
		return a.looking.last, nil
	}
	list := a.examined().Look(ctx)
	if err := ctx.Err(); err != nil { // half a look is none
		return web.Health{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: "look at the bench", Err: err}
	}
	h := web.Health{At: a.clock.Now()}
	for _, f := range list {
		todo := doctor.Code([]doctor.Finding{f}) != 0
		h.Findings = append(h.Findings, web.HealthFinding{LookedAt: f.Looked, Found: f.Found, Do: f.Do, Grade: string(f.Grade), ToDo: todo})
	}
	a.looking.at, a.looking.last = time.Now(), h
	return h, nil
}

// examined is this daemon's bench.
func (a *App) examined() doctor.Bench {
	b := Examined(a.o.Version)
	b.Config, b.File, b.Workspace = a.config(), a.config().File, a.o.Config.Workspace
	b.Daemon = doctor.Serving(store.Holder{PID: os.Getpid(), Address: a.Address(), Token: a.Token()})
	if a.o.Inhibit != nil {
		b.Inhibit = a.o.Inhibit
	}
	if a.o.Simulated {
		b.Ports = nil // its instruments hang on ports that no list has
	}
	if a.o.Reread != nil {
		_, b.Problems = a.o.Reread()
	}
	return b
}

// Configuration tells what is in force, and what a reload would come to now. It
// changes nothing.
func (a *App) Configuration() web.Configuration {
	next, problems, err := a.reread() // before the lock: a disk may take its time
	a.changing.RLock()
	defer a.changing.RUnlock()
	c := a.config()
	out := web.Configuration{File: c.File, Bench: c.Bench, Loaded: capture.Instant(a.loaded.Load()), CanReload: err == nil}
	if !out.CanReload {
		return out
	}
	if len(problems) > 0 {
		out.Problems = told(problems)
		return out
	}
	r, err := a.wouldReload(next)
	if err != nil {
		out.Refused = refusal(err)
		return out
	}
	out.Changes, out.Waits = r.changes(), r.waits()
	return out
}

func told(problems []configs.Problem) (out []web.ConfigProblem) {
	for _, p := range problems {
		out = append(out, web.ConfigProblem{File: p.File, Line: p.Line, Key: p.Key, What: p.What, Hint: p.Hint})
	}
	return out
}

// refusal is why a reload would change nothing, and what to do.
func refusal(err error) string {
	var e *dashboards.Error
	if !errors.As(err, &e) || e.Err == nil {
		return err.Error()
	}
	if e.Hint == "" {
		return e.Err.Error()
	}
	return e.Err.Error() + "; " + e.Hint
}
