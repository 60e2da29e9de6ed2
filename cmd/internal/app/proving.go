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
