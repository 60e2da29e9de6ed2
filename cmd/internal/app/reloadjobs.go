package app

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/dashboards"
)

// rerule is what a job's rules come to.
type rerule struct {
	job      *openJob
	was, now capture.RuleSet
}

// reruled works out the rules of every open job, and changes none. What the program
// itself put in force meanwhile, for an injection or an output that was found off, stays.
func (a *App) reruled(next *configs.Config) (out []rerule, err error) {
	var errs []error
	for _, j := range a.openJobs() {
		sheet, was := j.book.Sheet(), j.book.Rules()
		now := ruleSet(next, sheet, a.rosterOf(j.id))
		for _, r := range was.Rules {
			if (r.Kind == "injection" || r.Kind == "found off") && !slices.ContainsFunc(now.Rules, func(o capture.Rule) bool { return o.Name == r.Name }) {
				now.Rules = append(now.Rules, r)
			}
		}
		if err := checkBoard(sheet, now); err != nil {
			errs = append(errs, fmt.Errorf("job %s: %w", j.id, err))
		}
		out = append(out, rerule{j, was, now})
	}
	if len(errs) > 0 {
		return nil, &dashboards.Error{Kind: dashboards.Invalid, Detail: nothingChanged, Err: errors.Join(errs...)}
	}
	return out, nil
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
