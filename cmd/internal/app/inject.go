package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// An injection walks a short down: a small voltage, a current that nothing in
// its way minds, for a minute. Half a volt turns no semiconductor of silicon
// fully on (common practice).
const (
	injectVolts = 0.5
	injectFor   = 60 * time.Second
)

// injection is the amounts of one.
type injection struct {
	volts, amperes    float64 // as they are set
	trace, part, lead float64 // A, what each may carry
}

// request is what was asked for, to be checked once more when it is used.
func (i injection) request(subject string) dashboards.PermitRequest {
	return dashboards.PermitRequest{Kind: dashboards.PermitInject, Subject: subject, Volts: i.volts, Trace: i.trace, Part: i.part, Lead: i.lead}
}

// String says the amounts.
func (i injection) String() string {
	return fmt.Sprintf("%s V and at most %s A (trace %s A, part %s A, lead %s A)", plainFigure(i.volts), plainFigure(i.amperes), plainFigure(i.trace), plainFigure(i.part), plainFigure(i.lead))
}

// limits writes the set-points as the text of an act.
func (i injection) limits() string {
	return "volts " + plainFigure(i.volts) + ", amperes " + plainFigure(i.amperes)
}

func plainFigure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (a *App) notInjecting(subject, what string) error {
	if !a.injections.on(subject) {
		return nil
	}
	return injectionOn(subject, what)
}

func injectionOn(subject, what string) error {
	return &dashboards.Error{Kind: dashboards.Conflict, Detail: what + ": an injection is under way", Hint: "wait until its minute is over, or end it: steadyrail output " + subject + " off"}
}

// mayInject checks what a person asks for, and refuses what is above.
func (a *App) mayInject(j *openJob, r dashboards.PermitRequest) (*injection, error) {
	what := "inject through " + r.Subject
	refuse := func(detail, hint string) (*injection, error) {
		return nil, &dashboards.Error{Kind: dashboards.Refused, Detail: what + ": " + detail, Hint: hint}
	}
	if err := a.notInjecting(r.Subject, what); err != nil {
		return nil, err
	}
	info := a.info((capture.Act{Subject: r.Subject}).Instrument())
	stage, _ := j.book.Stage()
	switch {
	case !slices.Contains(info.Acts, string(capture.ActLimits)):
		return refuse("its limits may not be set", "add limits to the acts of this instrument in the configuration")
	case stage != capture.ColdChecks && stage != capture.Isolate:
		return refuse(fmt.Sprintf("the job is in %s", stage), "a short is walked down without other power: steadyrail job stage isolate")
	case !(r.Volts > 0 && r.Volts <= injectVolts):
		return refuse(fmt.Sprintf("%s V is not between 0 and %s V", plainFigure(r.Volts), plainFigure(injectVolts)), "say at most 0.5 V: above that parts that are not short begin to conduct")
	}
	for _, c := range []struct {
		name string
		may  float64
	}{{"trace", r.Trace}, {"part", r.Part}, {"lead", r.Lead}} {
		if !(c.may > 0 && c.may <= 100) {
			return refuse("it is not said what the "+c.name+" may carry, in ampere", "say all three, trace, part and lead: the smallest is the limit")
		}
	}
	if !a.readInOhms(j) {
		return refuse("no rail of this job was read in ohms yet", "find the short first: steadyrail take dmm/ohms RAIL, or steadyrail enter RAIL \"0.84 ohm\"")
	}
	return &injection{r.Volts, min(r.Trace, r.Part, r.Lead), r.Trace, r.Part, r.Lead}, nil
}

// readInOhms reports whether a rail of the job was read in ohms: what is not known to
// be low has no short to be walked down.
func (a *App) readInOhms(j *openJob) bool {
	view, _ := a.Snapshot().Job(j.id)
	return slices.ContainsFunc(view.Rails, func(rv live.RailView) bool { return rv.Ohms != nil })
}

// inject sets the amounts, reads them back, switches on, and hands the minute to
// a goroutine of the daemon: whoever asked may go away.
func (a *App) inject(ctx context.Context, j *openJob, p permit, by string) (dashboards.Result, error) {
	what, loop := "inject through "+p.subject, a.loopOf[(capture.Act{Subject: p.subject}).Instrument()]
	run := a.injections.begin(j.id, p.subject)
	if run == nil {
		return dashboards.Result{}, injectionOn(p.subject, what)
	}
	// From here on it is carried through: half of it must not stay.
	asker := ctx
	ctx = context.WithoutCancel(ctx)
	// Off must come after on, however early it is asked for.
	tried := make(chan struct{})
	attempted := sync.OnceFunc(func() { close(tried) })
	defer attempted()
	err := a.prepare(ctx, j, p, by)
	if err == nil {
		err = a.watchInjection(j, p.subject)
	}
	if err == nil {
		run.turn = j.turnOf(p.subject)
		a.post(j, capture.Act{Verb: capture.ActInject, Subject: p.subject, Text: "start: " + p.inject.limits(), Value: injectFor.Seconds(), By: by})
		if !a.switcher.do(func(ctx context.Context) { a.endInjection(ctx, run, tried, j) }) {
			err = errStopping
		}
	}
	if err != nil {
		a.injections.finish(run, nil)
		return dashboards.Result{}, injectProblem(what, err)
	}
	act := capture.Act{Verb: capture.ActOutput, Subject: p.subject, Text: "on", By: by}
	if _, err := loop.Do(run.ended, act.Instrument(), act); err != nil { // ended before: it is not sent
		a.injections.over(p.subject) // the goroutine switches off, confirmed or not
		return dashboards.Result{}, problem(what, err)
	}
	at, err := a.postOutput(j, act)
	if err != nil {
		a.injections.over(p.subject)
		return dashboards.Result{}, problem(what, err)
	}
	attempted()
	return dashboards.Result{Job: j.id, At: at, Say: fmt.Sprintf("%s is on with %s, read back; it goes off after %d s. %s", p.subject, p.inject, int(injectFor.Seconds()), a.flowSoon(asker, run))}, nil
}

var errStopping = errors.New("the program is stopping")
var errAbove = errors.New("what reads back is above what is allowed")

// injectProblem is problem, but what a person can do about it stands in it already.
func injectProblem(what string, err error) error {
	var e *dashboards.Error
	switch {
	case errors.As(err, &e):
		return &dashboards.Error{Kind: e.Kind, Detail: what + ": " + e.Error(), Hint: e.Hint}
	case errors.Is(err, errAbove):
		return &dashboards.Error{Kind: dashboards.Refused, Detail: what, Err: err, Hint: "the output stays off; ask for a little less"}
	case errors.Is(err, errStopping):
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: what, Err: err}
	}
	return problem(what, err)
}

// prepare sets the amounts while the output is off and holds what reads back
// against what is allowed.
func (a *App) prepare(ctx context.Context, j *openJob, p permit, by string) error {
	act := capture.Act{Verb: capture.ActReadBack, Subject: p.subject, By: by}
	loop := a.loopOf[act.Instrument()]
	said, err := loop.Do(ctx, act.Instrument(), act)
	if err != nil {
		return err
	}
	if !capture.ReadsOff(said) {
		return &dashboards.Error{Kind: dashboards.Conflict, Detail: "its output is on", Hint: "switch it off first: steadyrail output " + p.subject + " off"}
	}
	act.Verb, act.Text = capture.ActLimits, p.inject.limits()
	if said, err = loop.Do(ctx, act.Instrument(), act); err != nil {
		return err
	}
	if figureIn(said, "volts") > injectVolts || figureIn(said, "amperes") > p.inject.amperes {
		return fmt.Errorf("%w: %s", errAbove, said)
	}
	a.post(j, act)
	return nil
}

// figureIn reads the figure behind a name in what was read back: "volts 0.300 V,
// amperes 0.500 A". What cannot be read is above everything.
func figureIn(said, name string) float64 {
	_, rest, found := strings.Cut(said, name+" ")
	figure, _, _ := strings.Cut(rest, " ")
	v, err := strconv.ParseFloat(strings.TrimSuffix(figure, ","), 64)
	if !found || err != nil {
		return 1e9
	}
	return v
}
