package app

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/notify"
)

// config is the configuration in force: that of the start, with what a reload may
// change. It is never written to.
func (a *App) config() *configs.Config { return a.effective.Load() }

// Reload reads the configuration again and puts in force what can be changed
// without touching a link: rules, formulas, notifiers, meters without a port, the
// address for phones. With anything wrong nothing is changed at all. What else
// differs is named: it waits for a restart.
func (a *App) Reload(ctx context.Context) (dashboards.Result, error) {
	a.reloading.Lock()
	defer a.reloading.Unlock()
	next, problems, err := a.reread()
	switch {
	case err != nil:
		return dashboards.Result{}, err
	case len(problems) > 0:
		return dashboards.Result{}, wrongFile(problems)
	}
	a.changing.Lock()
	defer a.changing.Unlock()
	r, err := a.wouldReload(next)
	if err != nil {
		return dashboards.Result{}, err
	}
	if r.tell != nil {
		a.dispatcher.swap(notify.New(notify.Options{}, r.tell...))
	}
	a.effective.Store(r.set)
	a.loaded.Store(int64(a.clock.Now()))
	at, err := a.putInForce(r.jobs, next.File)
	say := "The configuration was read again: " + r.say() + "."
	if waits := r.waits(); len(waits) > 0 {
		say += " This waits for a restart: " + strings.Join(waits, ", ") + "."
	}
	a.log.Info().Str("file", next.File).Msg("reload: " + say)
	return dashboards.Result{At: at, Say: say}, err
}

// reread reads the file of the start again, and changes nothing.
func (a *App) reread() (*configs.Config, []configs.Problem, error) {
	if a.o.Reread == nil {
		return nil, nil, &dashboards.Error{Kind: dashboards.Unavailable, Detail: "reload: this daemon was started without a configuration file"}
	}
	next, problems := a.o.Reread()
	return next, problems, nil
}

// reload is what reading the configuration again comes to.
type reload struct {
	was, next *configs.Config // in force, and in the file
	set       *configs.Config // in force afterwards
	jobs      []rerule
	tell      []notify.Notifier // who is told then; nil: as it is
}

// wouldReload works out what a reload comes to and whether it may be, and changes
// nothing. Whoever calls it holds changing.
func (a *App) wouldReload(next *configs.Config) (reload, error) {
	was := a.config()
	set := *was
	set.Rules, set.Formulas, set.Notify, set.Handhelds, set.Phone = next.Rules, next.Formulas, next.Notify, next.Handhelds, next.Phone
	r := reload{was: was, next: next, set: &set}
	if err := a.mayChange(next); err != nil {
		return r, err
	}
	var err error
	if r.jobs, err = a.reruled(&set); err != nil {
		return r, err
	}
	r.tell, err = a.retold(was.Notify, set.Notify)
	return r, err
}

// nothingChanged begins every refusal of a reload.
const nothingChanged = "reload: nothing was changed"

// wrongFile is every problem of a file, as check tells them.
func wrongFile(problems []configs.Problem) error {
	var errs []error
	for _, p := range problems {
		errs = append(errs, errors.New(p.String()))
	}
	return &dashboards.Error{Kind: dashboards.Invalid, Detail: nothingChanged, Err: errors.Join(errs...), Hint: "mend the file and reload again; what was in force is in force"}
}

// mayChange refuses rules and formulas that need an instrument which is not here
// before a restart: a rule that watches nothing would look like one that is content.
func (a *App) mayChange(next *configs.Config) error {
	known := map[string]bool{}
	for _, name := range a.order {
		known[name] = true
	}
	for _, c := range next.Instruments {
		if known[c.Name] {
			continue
		}
		for _, f := range next.Formulas {
			if strings.Contains(f.Text, c.Name+"/") {
				return needsRestart("formula "+f.Name, c.Name)
			}
		}
		for _, r := range next.Rules {
			if strings.HasPrefix(r.Against, c.Name+"/") || r.Trip == c.Name || strings.HasPrefix(r.Trip, c.Name+"/") {
				return needsRestart("rule "+r.Name, c.Name)
			}
		}
	}
	return nil
}

func needsRestart(what, instrument string) error {
	return &dashboards.Error{
		Kind: dashboards.Conflict, Detail: nothingChanged, Err: fmt.Errorf("%s needs %s, which is in the file and not here before a restart", what, instrument),
		Hint: "stop the daemon and start it again: open jobs go on, with the gap marked",
	}
}

// retold opens the notifiers of the file when they are others than those in force,
// and tells nobody anything.
func (a *App) retold(was, now []notify.Config) ([]notify.Notifier, error) {
	if reflect.DeepEqual(was, now) && !slices.ContainsFunc(now, readsFiles) {
		return nil, nil
	}
	list, err := a.openNotifiers(now)
	if err != nil {
		return nil, &dashboards.Error{Kind: dashboards.Invalid, Detail: nothingChanged, Err: err}
	}
	return append([]notify.Notifier{}, list...), nil // none is another world, too
}

// readsFiles reports whether a notifier hangs on more than the configuration says:
// what stands in those may be new.
func readsFiles(c notify.Config) bool {
	return c.BodyFile+c.CAFile+c.PasswordFile+c.PasswordEnv != ""
}
