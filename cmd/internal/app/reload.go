package app

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/rules"
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
	if a.o.Reread == nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: "reload: this daemon was started without a configuration file"}
	}
	next, problems := a.o.Reread()
	if len(problems) > 0 {
		return dashboards.Result{}, wrongFile(problems)
	}
	a.changing.Lock()
	defer a.changing.Unlock()
	was := a.config()
	set := *was
	set.Rules, set.Formulas, set.Notify, set.Handhelds, set.Phone = next.Rules, next.Formulas, next.Notify, next.Handhelds, next.Phone
	if err := a.mayChange(next); err != nil {
		return dashboards.Result{}, err
	}
	jobs, err := a.reruled(&set)
	if err != nil {
		return dashboards.Result{}, err
	}
	if err := a.retell(was.Notify, set.Notify); err != nil {
		return dashboards.Result{}, err
	}
	a.effective.Store(&set)
	at, err := a.putInForce(jobs, next.File)
	say := reloaded(was, &set, jobs) + waitsForRestart(was, next)
	a.log.Info().Str("file", next.File).Msg("reload: " + say)
	return dashboards.Result{At: at, Say: say}, err
}

// wrongFile is every problem of a file, as check tells them.
func wrongFile(problems []configs.Problem) error {
	var errs []error
	for _, p := range problems {
		errs = append(errs, errors.New(p.String()))
	}
	return &dashboards.Error{Kind: dashboards.Invalid, Detail: "reload: nothing was changed", Err: errors.Join(errs...), Hint: "mend the file and reload again; what was in force is in force"}
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
		Kind: dashboards.Conflict, Detail: fmt.Sprintf("reload: nothing was changed: %s needs %s, which is in the file and not here before a restart", what, instrument),
		Hint: "stop the daemon and start it again: open jobs go on, with the gap marked",
	}
}

// rerule is what a job's rules come to.
type rerule struct {
	job      *openJob
	was, now capture.RuleSet
}

// reruled works out the rules of every open job, and changes none. What the program
// itself put in force meanwhile, for an injection that runs, stays.
func (a *App) reruled(next *configs.Config) (out []rerule, err error) {
	var errs []error
	for _, j := range a.openJobs() {
		sheet, was := j.book.Sheet(), j.book.Rules()
		now := capture.RuleSet{Rules: rules.Written(rules.Implied(sheet, a.rosterOf(j.id)), concerning(next.Rules, sheet)), Formulas: next.Formulas, Engine: rules.Version}
		for _, r := range was.Rules {
			if r.Kind == "injection" && !slices.ContainsFunc(now.Rules, func(o capture.Rule) bool { return o.Name == r.Name }) {
				now.Rules = append(now.Rules, r)
			}
		}
		if err := checkBoard(sheet, now); err != nil {
			errs = append(errs, fmt.Errorf("job %s: %w", j.id, err))
		}
		out = append(out, rerule{j, was, now})
	}
	if len(errs) > 0 {
		return nil, &dashboards.Error{Kind: dashboards.Invalid, Detail: "reload: nothing was changed", Err: errors.Join(errs...)}
	}
	return out, nil
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

// changed tells which rules and formulas came, went or read otherwise now.
func (r rerule) changed() (came, gone, other []string) {
	before, after := named(r.was), named(r.now)
	for _, n := range names(r.was, r.now) {
		switch b, a := before[n], after[n]; {
		case b == nil:
			came = append(came, n)
		case a == nil:
			gone = append(gone, n)
		case !reflect.DeepEqual(a, b):
			other = append(other, n)
		}
	}
	return came, gone, other
}

func named(s capture.RuleSet) map[string]any {
	out := map[string]any{}
	for _, r := range s.Rules {
		out[r.Name] = r
	}
	for _, f := range s.Formulas {
		out["formula "+f.Name] = f
	}
	return out
}

// names lists each once, in the order in which they stand.
func names(sets ...capture.RuleSet) (out []string) {
	add := func(n string) {
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for _, s := range sets {
		for _, r := range s.Rules {
			add(r.Name)
		}
		for _, f := range s.Formulas {
			add("formula " + f.Name)
		}
	}
	return out
}

// say is the sentence about one job; "" when its rules are the same.
func (r rerule) say() string {
	came, gone, other := r.changed()
	var parts []string
	for _, p := range []struct {
		word string
		list []string
	}{{"new", came}, {"gone", gone}, {"changed", other}} {
		if len(p.list) > 0 {
			parts = append(parts, p.word+": "+strings.Join(p.list, ", "))
		}
	}
	return strings.Join(parts, "; ")
}

// putInForce records the new rules in each job where they differ: from that record
// on they are in force, live and when the file is judged again.
func (a *App) putInForce(jobs []rerule, file string) (at capture.Instant, err error) {
	var errs []error
	for _, r := range jobs {
		say := r.say()
		if say == "" {
			continue
		}
		ats, err := a.bus.PostAll(r.job.id, capture.Act{Verb: capture.ActNote, Text: "The rules were read again from " + file + ". " + capture.Capital(say) + ".", By: capture.ByReload}, r.now)
		if err != nil {
			errs = append(errs, problem("put the new rules in force in job "+r.job.id, err))
			continue
		}
		at = ats[len(ats)-1]
	}
	return at, errors.Join(errs...)
}

// retell puts other notifiers in force, when they are others. All are opened before
// the first is replaced.
func (a *App) retell(was, now []notify.Config) error {
	if reflect.DeepEqual(was, now) && !slices.ContainsFunc(now, readsFiles) {
		return nil
	}
	list, err := a.openNotifiers(now)
	if err != nil {
		return &dashboards.Error{Kind: dashboards.Invalid, Detail: "reload: nothing was changed", Err: err}
	}
	a.dispatcher.swap(notify.New(notify.Options{}, list...))
	return nil
}

// readsFiles reports whether a notifier hangs on more than the configuration says:
// what stands in those may be new.
func readsFiles(c notify.Config) bool {
	return c.BodyFile+c.CAFile+c.PasswordFile+c.PasswordEnv != ""
}

// reloaded says what a reload put in force.
func reloaded(was, now *configs.Config, jobs []rerule) string {
	var did []string
	for _, r := range jobs {
		if say := r.say(); say != "" {
			did = append(did, "job "+r.job.id+" is judged by other rules ("+say+")")
		}
	}
	if len(did) == 0 && (!reflect.DeepEqual(was.Rules, now.Rules) || !reflect.DeepEqual(was.Formulas, now.Formulas)) {
		did = append(did, "jobs that are opened from now on are judged by other rules")
	}
	for _, c := range []struct {
		what string
		same bool
	}{
		{"others are told of alarms", reflect.DeepEqual(was.Notify, now.Notify)},
		{"the meters without a port are others", reflect.DeepEqual(was.Handhelds, now.Handhelds)},
		{"pages for phones are opened elsewhere", was.Phone == now.Phone},
	} {
		if !c.same {
			did = append(did, c.what)
		}
	}
	if len(did) == 0 {
		return "The configuration was read again: nothing that is in force changed."
	}
	return "The configuration was read again: " + strings.Join(did, "; ") + "."
}

// waitsForRestart names what differs and cannot be changed while links are in use.
func waitsForRestart(was, next *configs.Config) string {
	var list []string
	for _, c := range []struct {
		key  string
		same bool
	}{
		{"bench", was.Bench == next.Bench},
		{"workspace", was.Workspace == next.Workspace},
		{"listen", was.Listen == next.Listen},
		{"decimal", was.Decimal == next.Decimal},
		{"log_level", was.LogLevel == next.LogLevel},
		{"models", reflect.DeepEqual(was.Models, next.Models)},
		{"job", reflect.DeepEqual(was.Job, next.Job)},
		{"pedal", reflect.DeepEqual(was.Pedal, next.Pedal)},
		{"voice", slices.Equal(was.Voice, next.Voice)},
	} {
		if !c.same {
			list = append(list, c.key)
		}
	}
	list = append(list, otherInstruments(was.Instruments, next.Instruments)...)
	if len(list) == 0 {
		return ""
	}
	return " This waits for a restart: " + strings.Join(list, ", ") + "."
}

func otherInstruments(was, next []drivers.Config) (out []string) {
	by := func(list []drivers.Config, name string) *drivers.Config {
		if i := slices.IndexFunc(list, func(c drivers.Config) bool { return c.Name == name }); i >= 0 {
			return &list[i]
		}
		return nil
	}
	for _, c := range next {
		switch b := by(was, c.Name); {
		case b == nil:
			out = append(out, "instrument "+c.Name+" (new)")
		case !sameInstrument(*b, c):
			out = append(out, "instrument "+c.Name)
		}
	}
	for _, c := range was {
		if by(next, c.Name) == nil {
			out = append(out, "instrument "+c.Name+" (gone from the file)")
		}
	}
	return out
}

// sameInstrument compares what a file says of an instrument.
func sameInstrument(a, b drivers.Config) bool {
	a.Latest, b.Latest = nil, nil
	return reflect.DeepEqual(a, b)
}
