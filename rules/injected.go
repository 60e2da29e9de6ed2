package rules

import (
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// Flows follows what flows in the injections of a job. The zero value knows of none.
// Not safe for concurrent use.
type Flows struct{ list []*flowing }

type flowing struct {
	kind.Flow
	told, nothing bool
	turned        capture.Instant // since when it is otherwise than told; 0: it is not
}

// turnHolds is how long what flows must be otherwise before that is news: a lead
// that is loose would fill the record.
const turnHolds = 2 * time.Second

// Flowing is news of an injection: what flows is known, or has turned.
type Flowing struct {
	Output  string
	Nothing bool
	Say     string // see [kind.Flow.String]
}

// Consume takes the next record of the job and returns what is news.
func (f *Flows) Consume(rec capture.Record) (news []Flowing) {
	act, isAct := rec.Item.(capture.Act)
	if isAct && act.Verb == capture.ActInject && act.Value > 0 {
		f.list = slices.DeleteFunc(f.list, func(o *flowing) bool { return o.Output == act.Subject })
		f.list = append(f.list, &flowing{Flow: kind.Flow{Output: act.Subject}})
	}
	for _, o := range f.list {
		switch it := rec.Item.(type) {
		case capture.Act:
			o.Act(rec.At, &it)
		case capture.Reading:
			o.Read(rec.At, &it)
		}
		if o.news(rec.At) {
			o.told, o.nothing, o.turned = true, o.Nothing(), 0
			news = append(news, Flowing{o.Output, o.nothing, o.String()})
		}
	}
	return news
}

// news reports whether what flows is known now, or has been otherwise than told for
// long enough.
func (o *flowing) news(at capture.Instant) bool {
	switch {
	case !o.On() || !o.Known():
		return false
	case !o.told:
		return true
	case o.nothing == o.Nothing():
		o.turned = 0
		return false
	case o.turned == 0:
		o.turned = at
	}
	return at.Sub(o.turned) >= turnHolds
}

// watchingInjections picks the rules that watch over injections.
func watchingInjections(all []*watcher) []*watcher {
	return slices.DeleteFunc(slices.Clone(all), func(w *watcher) bool { return w.rule.Kind != "injection" })
}

// injected hands what a supply reads at its own terminals to the rules that watch
// over injections through it: no channel of it stands on their rails.
func (e *Engine) injected(at capture.Instant, r *capture.Reading) {
	for _, w := range e.injects {
		if w.rule.Against == r.Channel.Instrument() {
			w.judge.Read(at, r)
			w.dirty = true
		}
	}
}
