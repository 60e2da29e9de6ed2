package app

import (
	"reflect"
	"slices"
	"strings"

	"steadyrail/drivers"
)

// say tells what a reload put in force.
func (r reload) say() string {
	did := r.changes()
	if len(did) == 0 {
		return "nothing that is in force changed"
	}
	return strings.Join(did, "; ")
}

// changes lists what a reload puts in force.
func (r reload) changes() (did []string) {
	for _, j := range r.jobs {
		if say := j.say(); say != "" {
			did = append(did, "job "+j.job.id+" is judged by other rules ("+say+")")
		}
	}
	if len(did) == 0 && (!reflect.DeepEqual(r.was.Rules, r.set.Rules) || !reflect.DeepEqual(r.was.Formulas, r.set.Formulas)) {
		did = append(did, "jobs that are opened from now on are judged by other rules")
	}
	for _, c := range []struct {
		what string
		same bool
	}{
		{"others are told of alarms", reflect.DeepEqual(r.was.Notify, r.set.Notify)},
		{"the meters without a port are others", reflect.DeepEqual(r.was.Handhelds, r.set.Handhelds)},
		{"pages for phones are opened elsewhere", r.was.Phone == r.set.Phone},
	} {
		if !c.same {
			did = append(did, c.what)
		}
	}
	return did
}

// waits names what differs and cannot be changed while links are in use.
func (r reload) waits() (list []string) {
	was, next := r.was, r.next
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
	return append(list, otherInstruments(was.Instruments, next.Instruments)...)
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
