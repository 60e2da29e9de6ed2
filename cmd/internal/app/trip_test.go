package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// withTrip has the collapse of +5 V logic switch the supply off, in the place of
// the rule that follows from the rail.
func withTrip(c *configs.Config) {
	c.Rules = []capture.Rule{{Name: "collapse " + five, Kind: "collapse", Rail: five, Severity: capture.Urgent, Latch: true, Trip: sim.Supply}}
}

// armed waits until what is said of the trip begins so.
func (r *rig) trip(says string) {
	r.t.Helper()
	r.until("the trip says "+says, func(s live.Snapshot) bool { return strings.HasPrefix(said(s), says) })
}

func said(s live.Snapshot) string {
	j, _ := s.Job("")
	for _, rail := range j.Rails {
		for _, v := range rail.Verdicts {
			if v.Kind == "trip" && v.Rail == five {
				return v.Say
			}
		}
	}
	return ""
}

// onOff reports whether the bench supply is truly on.
func (r *rig) isOn() bool {
	r.t.Helper()
	v, err := r.bench.Truth("supply on")
	r.must(err)
	return v != 0
}

// A collapse switches the supply off: announced, confirmed by its read-back,
// recorded with the delay since the reading; nothing switches it on again, a
// restart included.
func TestTrip(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, withTrip)
	r.soak()
	r.trip("Trip armed through supply")
	before := r.permit(dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	r.fault("short +5 V", "0.2ohm")
	r.until("the trip has acted", func(s live.Snapshot) bool { return strings.Contains(said(s), "acted once") })
	if r.isOn() {
		t.Error("the output is on after its trip was confirmed")
	}
	_, err := r.SwitchOn(t.Context(), "", dashboards.SwitchOn{Subject: sim.Supply, Permit: before})
	refused(t, "a permit from before the trip", err, dashboards.Refused, "no permit")
	if v := r.metric("steadyrail_trip_delay_seconds_count", `by="trip"`); v != "1" {
		t.Errorf("trip delays counted: %q", v)
	}
	r.fault("clear")
	_, page := r.ask("GET", "/alarms", "")
	if !strings.Contains(page, "read back") || !strings.Contains(page, "<dt>Trip</dt>") {
		t.Error("the alarm's page does not tell the trip's delay")
	}
	r.pass(15 * time.Second)
	r.stop()
	s := r.read(jobID)
	var texts []string
	for _, rec := range s.acts(capture.ActOutput, sim.Supply) {
		a := rec.Item.(capture.Act)
		texts = append(texts, strings.TrimSpace(a.Text+" "+a.By))
		if a.Tripped() && (a.Value <= 0 || a.Value > 30) {
			t.Errorf("a delay of %g s", a.Value)
		}
	}
	if got := strings.Join(texts, ", "); got != "on R. Hale, switching off trip, off trip" {
		t.Errorf("acts: %s", got)
	}

	r.start()
	r.trip("Trip armed through supply")
	r.pass(5 * time.Second)
	if r.isOn() {
		t.Error("a start switched the output on")
	}
}

// A relay that is welded: tried a bounded number of times, then a person is
// called, and the record does not say off.
func TestTripNotConfirmed(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, withTrip)
	r.soak()
	r.trip("Trip armed through supply")
	r.fault("relay welded")
	r.fault("short +5 V", "0.2ohm")
	r.until("an urgent alarm of the trip", func(s live.Snapshot) bool {
		got, ok := alarm(s, "trip", five)
		return ok && strings.Contains(got.Say, "NOT confirmed off") && strings.Contains(got.Advice, "by hand") && got.Severity == capture.Urgent && got.To == capture.Active
	})
	r.until("it was told", func(live.Snapshot) bool { return strings.Contains(r.out.String(), "NOT confirmed off") })
	r.stop()
	for _, rec := range r.read(jobID).acts(capture.ActOutput, sim.Supply) {
		if a := rec.Item.(capture.Act); a.Text == "off" {
			t.Errorf("recorded as off: %+v", a)
		}
	}
}

// A supply that does not answer, and its way back: blind while the link is away
// and until the protection was read back; not armed when it reads back otherwise.
func TestTripBlind(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, withTrip)
	r.open(jobID)
	r.trip("Trip not armed: protection not read back")
	r.insist(capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: feedLimits})
	r.trip("Trip armed through supply")
	r.fault("link down", sim.Supply)
	r.until("the second line is blind", func(s live.Snapshot) bool {
		got, ok := alarm(s, "trip", five)
		return ok && strings.HasPrefix(got.Say, "Second line is blind") && got.To == capture.Active
	})
	r.until("it was told", func(live.Snapshot) bool { return strings.Contains(r.out.String(), "Second line is blind") })
	r.trip("Trip cannot act: the link to supply is lost")
	r.fault("link up", sim.Supply)
	r.trip("Trip armed through supply")
	r.stop()
	s := r.read(jobID)
	back := s.acts(capture.ActReadBack, sim.Supply)
	if len(back) != 1 || !strings.HasPrefix(back[0].Item.(capture.Act).Text, "output off, over-voltage 26.00 V") {
		t.Errorf("read back: %+v", back)
	}
	if n := r.bench.Resets(); n != 0 {
		t.Errorf("*RST was sent %d times", n)
	}
}

// Everything that is missing is said, and nothing is switched.
func TestPermitRefusals(t *testing.T) {
	t.Parallel()
	r := newRig(t, 6, func(c *configs.Config) {
		for i := range c.Instruments {
			if c.Instruments[i].Name == sim.Thermo {
				c.Instruments[i].Acts = nil
			}
		}
	})
	ctx := t.Context()
	power := dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply}
	_, err := r.Permit(ctx, "", power)
	refused(t, "without a job", err, dashboards.NotFound, "no job is open")
	r.open(jobID)
	_, err = r.Permit(ctx, "", power)
	refused(t, "without anything", err, dashboards.Refused, "cold check of "+five, dsp, "protection was not programmed", "--ovp")
	inject := dashboards.PermitRequest{Kind: dashboards.PermitInject, Subject: sim.Supply, Volts: 0.3, Trace: 1, Part: 0.5, Lead: 2}
	_, err = r.Permit(ctx, "", inject)
	refused(t, "an injection at take-in", err, dashboards.Refused, "take-in")
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	for name, c := range map[string]struct {
		change func(*dashboards.PermitRequest)
		kind   dashboards.Kind
		words  string
	}{
		"above half a volt":  {func(p *dashboards.PermitRequest) { p.Volts = 0.501 }, dashboards.Refused, "0.5 V"},
		"no voltage":         {func(p *dashboards.PermitRequest) { p.Volts = 0 }, dashboards.Refused, "0.5 V"},
		"trace not said":     {func(p *dashboards.PermitRequest) { p.Trace = 0 }, dashboards.Refused, "trace"},
		"part not said":      {func(p *dashboards.PermitRequest) { p.Part = 0 }, dashboards.Refused, "part"},
		"lead not said":      {func(p *dashboards.PermitRequest) { p.Lead = -1 }, dashboards.Refused, "lead"},
		"another kind":       {func(p *dashboards.PermitRequest) { p.Kind = "glow" }, dashboards.Invalid, "glow"},
		"a meter":            {func(p *dashboards.PermitRequest) { p.Subject = sim.DMM }, dashboards.Invalid, "it has no output outputs are those of " + sim.Supply},
		"no such instrument": {func(p *dashboards.PermitRequest) { p.Subject = "scope" }, dashboards.NotFound, "scope"},
	} {
		want := inject
		c.change(&want)
		_, err := r.Permit(ctx, "", want)
		refused(t, name, err, c.kind, c.words)
	}
	_, err = r.Permit(ctx, "", inject)
	refused(t, "before any rail was read in ohms", err, dashboards.Refused, "no rail of this job was read in ohms", "find the short first")
	r.enter(five, "0.84 ohm", "")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "on"})
	refused(t, "on as an ordinary act", err, dashboards.Refused, "no permit")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off", By: capture.ByTrip})
	refused(t, "in the trip's name", err, dashboards.Invalid, "trip")
	code := r.permit(inject)
	_, err = r.SwitchOn(ctx, "", dashboards.SwitchOn{Subject: "scope", Permit: code})
	refused(t, "another output's code", err, dashboards.Refused, "no permit")
	_, err = r.SwitchOn(ctx, "", dashboards.SwitchOn{Subject: sim.Supply, Permit: code})
	refused(t, "a code that was used", err, dashboards.Refused, "no permit")
	status, body := r.ask("POST", "/api/v1/acts", `{"verb":"output","subject":"supply","text":"on"}`, r.withToken)
	if status != 422 || !strings.Contains(body, "no permit") {
		t.Errorf("on over HTTP: %d %s", status, body)
	}
	if r.isOn() {
		t.Error("the output is on")
	}
}

// An injection ends by itself, whoever asked for it is gone; meanwhile nothing
// may be raised.
func TestInject(t *testing.T) {
	t.Parallel()
	r := newRig(t, 10)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Isolate})
	r.enter(five, "0.84 ohm", "")
	stale := r.permit(dashboards.PermitRequest{Kind: dashboards.PermitInject, Subject: sim.Supply, Volts: 0.3, Trace: 1, Part: 0.5, Lead: 2})
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test"})
	_, err := r.SwitchOn(t.Context(), "", dashboards.SwitchOn{Subject: sim.Supply, Permit: stale})
	refused(t, "a permit of a stage that is over", err, dashboards.Refused, string(capture.LiveChecks))
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Isolate, Text: "back to it"})
	status, body := r.ask("POST", "/api/v1/permits", `{"kind":"inject","subject":"supply","volts":0.3,"trace_amperes":1,"part_amperes":0.5,"lead_amperes":2}`, r.withToken)
	if status != 201 || !strings.Contains(body, "0.5 A") || !strings.Contains(body, "Injected current heats") {
		t.Fatalf("permit: %d %s", status, body)
	}
	_, code, _ := strings.Cut(body, `"code":"`)
	code, _, _ = strings.Cut(code, `"`)
	status, body = r.ask("POST", "/api/v1/acts", `{"verb":"output","subject":"supply","text":"on","permit":"`+code+`"}`, r.withToken)
	if status != 201 || !strings.Contains(body, "60 s") {
		t.Fatalf("on: %d %s", status, body)
	}
	begun := r.clock.Now()
	if !r.isOn() {
		t.Error("the output is not on")
	}
	_, err = r.Act(t.Context(), "", capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "volts 24"})
	refused(t, "limits meanwhile", err, dashboards.Conflict, "injection")
	_, err = r.Permit(t.Context(), "", dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	refused(t, "power meanwhile", err, dashboards.Conflict, "injection")
	r.until("the minute is over", func(s live.Snapshot) bool { return ended(s) != "" })
	if took := r.clock.Now().Sub(begun); r.isOn() || took < 55*time.Second {
		t.Errorf("on: %t after %s", r.isOn(), took)
	}
	r.stop()
	for _, rec := range r.read(jobID).acts(capture.ActLimits, sim.Supply) {
		if a := rec.Item.(capture.Act); a.Text != "volts 0.3, amperes 0.5" {
			t.Errorf("limits that were set: %q", a.Text)
		}
	}
}

// ended is how an injection ended; "" while it lasts.
func ended(s live.Snapshot) string {
	j, _ := s.Job("")
	for _, e := range j.Entries {
		if e.Act.Verb == capture.ActInject && e.Act.Value == 0 {
			return e.Act.Text
		}
	}
	return ""
}

// What a run left half done: an announced trip becomes the alarm that a person
// must see to, and an injection that nobody ended is switched off.
func TestLeftHalfDone(t *testing.T) {
	entry := func(verb capture.Verb, subject, text, by string, v float64) capture.Entry {
		return capture.Entry{Act: capture.Act{Verb: verb, Subject: subject, Text: text, By: by, Value: v}}
	}
	out := func(text string) capture.Entry { return entry(capture.ActOutput, "psu/1", text, "", 0) }
	inject := func(text string, v float64) capture.Entry { return entry(capture.ActInject, "psu/1", text, "", v) }
	all := entry(capture.ActOutput, "psu", "off", "", 0)
	for name, c := range map[string]struct {
		entries            []capture.Entry
		announced, injects int
	}{
		"nothing":                 {nil, 0, 0},
		"on":                      {[]capture.Entry{out("on")}, 0, 0},
		"being switched off":      {[]capture.Entry{out("on"), out(capture.SwitchingOff)}, 1, 0},
		"off":                     {[]capture.Entry{out(capture.SwitchingOff), out("off")}, 0, 0},
		"taken back":              {[]capture.Entry{out(capture.SwitchingOff), out(capture.NotConfirmed)}, 0, 0},
		"all off":                 {[]capture.Entry{out(capture.SwitchingOff), all}, 0, 0},
		"injecting":               {[]capture.Entry{inject("start: volts 0.3, amperes 0.5", 60), out("on")}, 0, 1},
		"injected":                {[]capture.Entry{inject("start: volts 0.3, amperes 0.5", 60), out("on"), out("off"), inject("over", 0)}, 0, 0},
		"all off while injecting": {[]capture.Entry{inject("start: volts 0.3, amperes 0.5", 60), all}, 0, 0},
	} {
		if got := app.HalfDone(c.entries); len(got) != c.announced {
			t.Errorf("%s: half done %+v", name, got)
		}
		if got := app.InjectedOn(c.entries); len(got) != c.injects {
			t.Errorf("%s: injected %+v", name, got)
		}
	}
}
