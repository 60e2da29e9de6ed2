package app

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// permitLasts is how long a person may think about a permit: what was checked
// for it is checked once more when it is used.
const permitLasts = 2 * time.Minute

// permit is a permission that was given and not used yet.
type permit struct {
	job, subject string
	inject       *injection       // nil: power
	plan         *capture.Regimen // of a soak: all that it switches
	resume       bool             // the plan waits, and goes on
	until        capture.Instant
}

// permits are the codes that were given out. The zero value is ready.
type permits struct {
	mu    sync.Mutex
	given map[string]permit
}

func (p *permits) give(what permit, now capture.Instant) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.given == nil {
		p.given = map[string]permit{}
	}
	for code, old := range p.given {
		if old.until < now {
			delete(p.given, code)
		}
	}
	code := rand.Text()
	p.given[code] = what
	return code
}

// use takes a code, which is gone with that, and reports whether it was good for
// this job and output.
func (p *permits) use(code, job, subject string, now capture.Instant) (permit, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	got, ok := p.given[code]
	delete(p.given, code)
	return got, ok && got.job == job && got.subject == subject && now <= got.until
}

// void takes back every permit for what is being switched off: a trip came after
// the person looked.
func (p *permits) void(output string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for code, given := range p.given {
		if (capture.Act{Subject: output}).Concerns(given.subject) {
			delete(p.given, code)
		}
	}
}

// Permit checks whether an output may be switched on now. Nothing is sent.
func (a *App) Permit(ctx context.Context, id string, r dashboards.PermitRequest) (dashboards.Permit, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Permit{}, err
	}
	if err := a.maySwitch(r.Subject); err != nil {
		return dashboards.Permit{}, err
	}
	if err := a.maySource(j, capture.Act{Verb: capture.ActOutput, Subject: r.Subject, Text: "on"}); err != nil {
		return dashboards.Permit{}, err
	}
	if err := a.injections.settle(ctx, r.Subject); err != nil {
		return dashboards.Permit{}, err
	}
	want := permit{job: j.id, subject: r.Subject, until: a.clock.Now().Add(time.Duration(float64(permitLasts) * a.o.Speed()))}
	say := ""
	switch r.Kind {
	case dashboards.PermitPower:
		err = a.mayPower(j, r.Subject)
		say = fmt.Sprintf("%s will be switched on, %s.", r.Subject, j.protection(r.Subject).Claim())
	case dashboards.PermitInject:
		if want.inject, err = a.mayInject(j, r); err == nil {
			say = fmt.Sprintf("%s will be switched on with %s, for %d s, then off.", r.Subject, want.inject, int(injectFor.Seconds()))
		}
	default:
		err = &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("there is no permit %q", r.Kind), Hint: "power, or inject to walk a short down"}
	}
	if err != nil {
		return dashboards.Permit{}, err
	}
	return dashboards.Permit{Code: a.permits.give(want, a.clock.Now()), Say: say, Until: want.until, Notes: notes(j, r.Kind)}, nil
}

// SwitchOn uses a permit.
func (a *App) SwitchOn(ctx context.Context, id string, s dashboards.SwitchOn) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	if s.By == "" {
		s.By = j.book.Sheet().Technician
	}
	p, ok := a.permits.use(s.Permit, j.id, s.Subject, a.clock.Now())
	if !ok {
		return dashboards.Result{}, needsPermit(s.Subject)
	}
	on := capture.Act{Verb: capture.ActOutput, Subject: s.Subject, Text: "on", By: s.By}
	if err := a.maySource(j, on); err != nil {
		return dashboards.Result{}, err
	}
	if err := a.injections.settle(ctx, s.Subject); err != nil {
		return dashboards.Result{}, err
	}
	if p.inject != nil {
		if _, err := a.mayInject(j, p.inject.request(p.subject)); err != nil {
			return dashboards.Result{}, err
		}
		return a.inject(ctx, j, p, s.By)
	}
	if err := a.mayPower(j, s.Subject); err != nil {
		return dashboards.Result{}, err
	}
	act := capture.Act{Verb: capture.ActReadBack, Subject: s.Subject, Text: j.protection(s.Subject).Text()}
	if _, err := a.loopOf[act.Instrument()].Do(ctx, act.Instrument(), act); err != nil {
		return dashboards.Result{}, problem("switch "+s.Subject+" on: its protection does not read back as it was programmed", err)
	}
	res, err := a.carryOut(ctx, j, on)
	return res, a.mayHaveTripped(ctx, s.Subject, err)
}

// needsPermit is the answer to a wish to switch on without one.
func needsPermit(subject string) error {
	return &dashboards.Error{
		Kind:   dashboards.Refused,
		Detail: fmt.Sprintf("switch %s on: there is no permit for it, or it was used, or two minutes are over", subject),
		Hint:   fmt.Sprintf("ask for one and confirm it: steadyrail output %s on, or POST /api/v1/permits and then the act with its code", subject),
	}
}

// maySwitch refuses what is no output, or may not be switched.
func (a *App) maySwitch(subject string) error {
	act := capture.Act{Subject: subject}
	info := a.info(act.Instrument())
	switch {
	case a.loopOf[act.Instrument()] == nil:
		return a.noInstrument("output", act.Instrument())
	case !a.hasOutput(act.Instrument()):
		return &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("switch %s on: it has no output", subject), Hint: "outputs are those of " + a.suppliesNamed()}
	case !slices.Contains(info.Acts, string(capture.ActOutput)):
		return &dashboards.Error{Kind: dashboards.NotAllowed, Detail: fmt.Sprintf("switch %s on: the configuration does not allow it", subject), Hint: "add output and limits to the acts of this instrument in the configuration"}
	}
	return nil
}

// mayPower says everything that is missing before an output may be switched on.
// Nothing on the sheet tells which rails an output feeds, so the cold check of
// every rail that has one must have passed in this job, since the board was last
// worked on, and in every other open job that the output may feed.
func (a *App) mayPower(j *openJob, subject string) error {
	if err := a.notInjecting(subject, "switch "+subject+" on"); err != nil {
		return err
	}
	if a.switcher.claimed(subject) {
		return &dashboards.Error{Kind: dashboards.Conflict, Detail: "switch " + subject + " on: a trip is switching it off", Hint: "find out why first: steadyrail alarms"}
	}
	missing, hints := coldMissing(j)
	elsewhere, there := a.unpassedElsewhere(j, subject)
	missing, hints = append(missing, elsewhere...), append(hints, there...)
	if p := j.protection(subject); !p.Armed() {
		why := "its own over-voltage and over-current protection was not programmed and read back in this job"
		if p.Programmed() {
			why = "its protection was not read back since its link was lost"
			if p.Elsewhere != "" {
				why = "its protection was set in " + p.Elsewhere + " and does not read back as this job programmed it"
			}
		}
		missing = append(missing, why)
		hints = append(hints, fmt.Sprintf("steadyrail limits %s --volts 24 --amps 1 --ovp 26 --ocp 1.5, with your figures", subject))
	}
	if len(missing) == 0 {
		return nil
	}
	return &dashboards.Error{Kind: dashboards.Refused, Detail: fmt.Sprintf("switch %s on: %s", subject, strings.Join(missing, "; and ")), Hint: strings.Join(hints, "; ")}
}

// saysShort is what the rules about shorts said last of rails, for whoever asks why
// their cold checks have not passed: a probe that was taken off since says nothing.
func saysShort(j *openJob, rails []string) string {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	var says, unread []string
	for _, rail := range rails {
		if said := j.said[rail]; said != "" {
			says = append(says, rail+": "+said)
		} else {
			unread = append(unread, rail)
		}
	}
	switch len(unread) {
	case 0:
	case 1:
		says = append(says, unread[0]+" was not read in ohms")
	default:
		says = append(says, strings.Join(unread, ", ")+" were not read in ohms")
	}
	return " (" + strings.Join(says, "; ") + ")"
}

// mayAct refuses what is not to be asked for as an ordinary act.
func (a *App) mayAct(act capture.Act) error {
	switch {
	case act.By == capture.ByTrip || act.By == capture.ByInject || act.By == capture.ByPlan:
		return &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("%s: %q is the name of what the program does by itself", act.Verb, act.By), Hint: "act under a person's name"}
	case act.Verb == capture.ActOutput && act.Text == "on":
		return needsPermit(act.Subject)
	case act.Verb == capture.ActLimits:
		return a.notInjecting(act.Subject, "set the limits of "+act.Subject)
	}
	return nil
}
