package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/rules/discharge"
)

const (
	// knownSource is the point that a meter stands at while it is proved.
	knownSource = "known source"
	// proveTime is how long a proof waits for the touch, in bench time.
	proveTime = 20 * time.Second
	// proveReadings in a row must agree with the source.
	proveReadings = 3
	// sourceFresh is how old a supply's own reading may be.
	sourceFresh = 5 * time.Second
)

// Cold returns what the page of cold checks shows.
func (a *App) Cold(id string) web.Cold {
	j, err := a.job(id)
	if err != nil {
		return web.Cold{Leads: []web.Leads{}}
	}
	out := web.Cold{Leads: a.leads(j)}
	if s := j.discharge.State(a.clock.Now(), time.Local); s.Phase != discharge.None {
		d := dischargeShape(s)
		out.Discharge = &d
	}
	return out
}

// Reckon answers a card.
func (a *App) Reckon(ask dashboards.DischargeAsk) (web.DischargeCard, error) {
	d, err := ask.Card(a.o.Config.Decimal)
	if err != nil {
		return web.DischargeCard{}, err
	}
	return DischargeCard(d), nil
}

// voltmeter refuses a channel that cannot watch a capacitor.
func (a *App) voltmeter(name string) (capture.ChannelInfo, error) {
	ch, ok := a.channel(capture.ChannelID(name))
	var volts []string
	for _, in := range a.order {
		for _, c := range a.info(in).Channels {
			if c.Quantity == capture.DCVoltage && !c.Setpoint {
				volts = append(volts, string(c.ID))
			}
		}
	}
	hint := "channels of DC volts: " + strings.Join(volts, ", ")
	switch {
	case name == "":
		return ch, &dashboards.Error{Kind: dashboards.Invalid, Detail: "discharge: no meter is named", Hint: hint}
	case !ok:
		return ch, &dashboards.Error{Kind: dashboards.NotFound, Detail: "discharge: there is no channel " + name, Hint: hint}
	case ch.Quantity != capture.DCVoltage:
		return ch, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("discharge: %s measures %s, and a capacitor is watched in DC volts", name, ch.Quantity.Words()), Hint: hint}
	case ch.Setpoint:
		return ch, &dashboards.Error{Kind: dashboards.Refused, Detail: fmt.Sprintf("discharge: %s is a supply's own reading, taken inside it", name), Hint: hint}
	}
	return ch, nil
}

// BeginDischarge puts the channel on the capacitor and records the card.
func (a *App) BeginDischarge(ctx context.Context, id string, ask dashboards.DischargeAsk) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	if _, err := a.voltmeter(ask.Channel); err != nil {
		return dashboards.Result{}, err
	}
	d, err := ask.Card(a.o.Config.Decimal)
	if err != nil {
		return dashboards.Result{}, err
	}
	p := capture.Placement{Channel: d.Channel, Point: d.What}
	if ask.Rail != "" {
		rail, err := j.book.Sheet().FindRail(ask.Rail)
		if err != nil {
			return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: "discharge: " + err.Error()}
		}
		d.Rail, p.Rail, p.Point = rail.Name, rail.Name, ""
		if d.What == "" {
			d.What = "the capacitor on " + rail.Name
		}
	}
	if d.What == "" {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "discharge: name the capacitor or its rail", Hint: `such as "C1, bulk"`}
	}
	placed, err := a.Place(ctx, id, p)
	if err != nil {
		return dashboards.Result{}, err
	}
	res, err := a.Act(ctx, j.id, capture.Act{Verb: capture.ActDischarge, Subject: d.What, Text: d.Text(), Value: d.Volts})
	if err != nil {
		return res, err
	}
	res.Say += " " + strings.Join(discharge.Reckon(d).Say, " ")
	if _, more, found := strings.Cut(placed.Say, ". "); found {
		res.Say += " " + more // cautions of the rail, said with its first placement
	}
	return res, nil
}

// EndDischarge records what was measured.
func (a *App) EndDischarge(ctx context.Context, id string) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	s := j.discharge.State(a.clock.Now(), time.Local)
	if s.Phase == discharge.None || s.Closed {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: "discharge: none is under way in job " + j.id, Hint: "begin one: steadyrail discharge begin"}
	}
	return a.Act(ctx, j.id, capture.Act{Verb: capture.ActDischarged, Subject: s.Card.What, Text: s.Finished, Value: s.Last.Volts})
}

// ProveMeter puts the channel on a known source and waits until it shows it.
func (a *App) ProveMeter(ctx context.Context, id string, ask dashboards.DischargeAsk) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	ch, err := a.voltmeter(ask.Channel)
	if err != nil {
		return dashboards.Result{}, err
	}
	source, volts, err := a.source(ask)
	if err != nil {
		return dashboards.Result{}, err
	}
	if _, err := a.Place(ctx, id, capture.Placement{Channel: ch.ID, Point: knownSource}); err != nil {
		return dashboards.Result{}, err
	}
	seen, err := a.awaitSource(ctx, j, ch.ID, source, volts)
	if err != nil {
		return dashboards.Result{}, err
	}
	return a.Act(ctx, j.id, capture.Act{Verb: capture.ActProve, Subject: string(ch.ID), Text: seen.Text(), Value: seen.Read})
}

// source returns what is known to be live, in words and in volt.
func (a *App) source(ask dashboards.DischargeAsk) (string, float64, error) {
	switch {
	case ask.Battery != "" && ask.Source != "":
		return "", 0, &dashboards.Error{Kind: dashboards.Invalid, Detail: "prove the meter: name a supply's output or a battery, not both"}
	case ask.Battery != "":
		v, _, err := capture.Volt.ParseTyped(ask.Battery, a.o.Config.Decimal)
		if err != nil || math.Abs(v) < capture.ProofLeast || math.Abs(v) > 60 {
			return "", 0, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("prove the meter: %q is no battery", ask.Battery), Err: err, Hint: fmt.Sprintf("type its volts, %g to 60", capture.ProofLeast)}
		}
		return "a battery", v, nil
	case ask.Source != "":
		return a.supplySource(ask.Source)
	}
	return "", 0, &dashboards.Error{Kind: dashboards.Invalid, Detail: "prove the meter: no known source is named", Hint: "name an output of a supply that is on, --source supply, or a battery by its volts, --battery 9"}
}

// supplySource takes a supply's own reading of an output for what is there.
func (a *App) supplySource(output string) (string, float64, error) {
	snap := a.table.Snapshot()
	for _, c := range snap.Channels {
		id := string(c.Info.ID)
		if !c.Info.Setpoint || c.Info.Quantity != capture.DCVoltage || id != output && !strings.HasPrefix(id, output+"/") {
			continue
		}
		v, err := freshVolts(snap, c)
		if err != nil {
			return "", 0, &dashboards.Error{Kind: dashboards.Refused, Detail: "prove the meter on " + output, Err: err, Hint: "switch the output on, with its current limit low; before the cold checks have passed it must stay off, and a battery does it, typed by its volts: --battery 9"}
		}
		return output + " by its own reading", v, nil
	}
	return "", 0, &dashboards.Error{Kind: dashboards.NotFound, Detail: "prove the meter: no output " + output + " reads its volts back", Hint: a.readBacks()}
}

func freshVolts(snap live.Snapshot, c live.ChannelView) (float64, error) {
	switch {
	case c.Last == nil || !c.Last.Reading.HasValue() || snap.Now.Sub(c.Last.At) > sourceFresh:
		return 0, fmt.Errorf("it has no fresh reading of its own")
	case math.Abs(c.Last.Reading.Value) < capture.ProofLeast:
		return 0, fmt.Errorf("it has %s, and less than %g V prove nothing", capture.Volt.Text(c.Last.Reading.Value, c.Last.Reading.Resolution), capture.ProofLeast)
	}
	return c.Last.Reading.Value, nil
}

// trying is a sink that waits for readings that agree with a known source.
type trying struct {
	channel capture.ChannelID
	source  string
	volts   float64

	mu     sync.Mutex
	newest *capture.Reading
	inRow  int
	done   chan struct{}
}

// Consume counts the readings in a row that agree.
func (t *trying) Consume(rec capture.Record) {
	r, ok := rec.Item.(capture.Reading)
	if !ok || r.Channel != t.channel || !r.Good() {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.inRow >= proveReadings {
		return
	}
	t.newest = &r
	t.inRow++
	if !t.proof().Good {
		t.inRow = 0
	}
	if t.inRow == proveReadings {
		close(t.done)
	}
}

// proof is called with the lock held.
func (t *trying) proof() capture.MeterProof {
	return capture.NewMeterProof(t.source, t.volts, t.newest.Value, t.newest.Resolution)
}

// awaitSource waits for the touch. A meter that shows something else until the
// time is up was not proved, and that is a result; one that shows nothing at all
// gives none.
func (a *App) awaitSource(ctx context.Context, j *openJob, ch capture.ChannelID, source string, volts float64) (capture.MeterProof, error) {
	t := &trying{channel: ch, source: source, volts: volts, done: make(chan struct{})}
	detach := a.bus.Attach(j.id, t)
	defer detach()
	late, stop := a.clock.After(proveTime)
	defer stop()
	select {
	case <-t.done:
	case <-late:
	case <-ctx.Done():
		return capture.MeterProof{}, ctx.Err()
	case <-a.stopping:
		return capture.MeterProof{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: "prove the meter: the daemon is stopping"}
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.newest == nil {
		return capture.MeterProof{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: fmt.Sprintf("prove the meter: %s gave no reading in %.0f s", ch, proveTime.Seconds()), Hint: "look at its function and its link"}
	}
	return t.proof(), nil
}

// readBacks names what reads its volts back, for who named something else.
func (a *App) readBacks() string {
	var out []string
	for _, c := range a.table.Snapshot().Channels {
		if c.Info.Setpoint && c.Info.Quantity == capture.DCVoltage {
			out = append(out, strings.TrimSuffix(string(c.Info.ID), "/volts"))
		}
	}
	if len(out) == 0 {
		return "no supply of this bench does: take a battery, --battery 9"
	}
	return "these do: " + strings.Join(out, ", ")
}
