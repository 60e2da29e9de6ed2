package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// bench makes samples from a snapshot at scrape time.
type bench struct {
	snapshot func() live.Snapshot
	store    func() []StoreStat
	space    func() SpaceStat
	clock    func() (synchronised, known bool)
	alarms   *alarmCounter
}

// Describe lists everything that can be collected.
func (b *bench) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range all {
		ch <- d
	}
}

// Collect takes one snapshot and says what it holds.
func (b *bench) Collect(ch chan<- prometheus.Metric) {
	c := collection{snap: b.snapshot(), ch: ch}
	open := map[string]bool{}
	for _, j := range c.snap.Jobs {
		open[j.Sheet.Job] = true
		c.job(j)
	}
	for k, n := range b.alarms.of(open) {
		c.counter(alarmsTotal, n, c.snap.Bench, k.job, k.rule, k.rail, k.severity)
	}
	for _, in := range c.snap.Instruments {
		c.gauge(instrumentUp, one(in.Up), in.Info.Name)
		c.counter(resyncs, float64(in.Resyncs), in.Info.Name)
	}
	for _, v := range c.snap.Channels {
		c.channel(v)
	}
	for _, n := range c.snap.Notifiers {
		c.gauge(notifyQueue, float64(n.Queued), n.Name)
		c.counter(notices, float64(n.Sent), n.Name, "sent")
		c.counter(notices, float64(n.Failed), n.Name, "failed")
		if n.Tried {
			c.gauge(notifierUp, one(!n.Lost()), n.Name)
			c.gauge(notifierFailing, n.Failing.Seconds(), n.Name)
		}
	}
	if c.snap.Speed > 0 {
		c.gauge(benchSpeed, c.snap.Speed, c.snap.Bench)
	}
	if b.clock != nil {
		if synchronised, known := b.clock(); known {
			c.gauge(clockSynced, one(synchronised))
		}
	}
	if b.store != nil {
		for _, s := range b.store() {
			c.storeOf(s)
		}
	}
	if b.space != nil {
		c.spaceOf(b.space())
	}
}

// collection is one scrape.
type collection struct {
	snap live.Snapshot
	ch   chan<- prometheus.Metric
}

func (c collection) gauge(d *prometheus.Desc, v float64, labels ...string) {
	c.ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
}

func (c collection) counter(d *prometheus.Desc, v float64, labels ...string) {
	c.ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, v, labels...)
}

func (c collection) job(j live.JobView) {
	job := j.Sheet.Job
	if j.Stage != "" {
		c.gauge(stageInfo, 1, c.snap.Bench, job, string(j.Stage))
	}
	for _, rv := range j.Rails {
		c.rail(job, rv)
	}
	for _, p := range j.Points {
		c.point(job, p)
	}
	for k, active := range activeAlarms(j.Alarms) {
		c.gauge(alarmActive, active, c.snap.Bench, job, k.rule, k.rail, k.severity)
	}
}

// activeAlarms folds occurrences to rules: one sample for each rule, 1 when any
// of its occurrences is present. One that another alarm explains, or that was
// muted by hand, is left out: nobody is told of it twice.
func activeAlarms(ts []capture.Transition) map[alarmKey]float64 {
	out := map[alarmKey]float64{}
	for _, t := range ts {
		if t.Muted != "" {
			continue
		}
		k := alarmKey{rule: t.Rule, rail: t.Rail, severity: t.Severity.String()}
		out[k] = max(out[k], one(t.To.IsActive()))
	}
	return out
}

func (c collection) rail(job string, rv live.RailView) {
	name, r := rv.Rail.Name, rv.Rail
	c.gauge(railTarget, r.Target, c.snap.Bench, job, name)
	if r.Bounds.HasLow() {
		c.gauge(railLow, r.Bounds.Low, c.snap.Bench, job, name)
	}
	if r.Bounds.HasHigh() {
		c.gauge(railHigh, r.Bounds.High, c.snap.Bench, job, name)
	}
	if c.standsOn(rv, rv.Volts) {
		ch := rv.Volts.Reading.Channel
		c.gauge(railVolts, rv.Volts.Reading.Value, c.at(job, name, ch)...)
		if u := uncertainty(rv); u > 0 {
			c.gauge(railUncertainty, u, c.at(job, name, ch)...)
		}
		if share, ok := c.observed(rv); ok {
			c.gauge(observed, share, c.at(job, name, ch)...)
		}
	}
	if c.standsOn(rv, rv.Ohms) {
		c.gauge(railOhms, rv.Ohms.Reading.Value, c.at(job, name, rv.Ohms.Reading.Channel)...)
	}
	for _, v := range rv.Verdicts {
		for o := capture.NoData; o <= capture.Fail; o++ {
			c.gauge(ruleVerdict, one(v.Outcome == o), c.snap.Bench, job, v.Rule, name, o.String())
		}
	}
}

func (c collection) at(job, rail string, ch capture.ChannelID) []string {
	return []string{c.snap.Bench, job, rail, ch.Instrument(), ch.Input()}
}

// standsOn reports whether a reading is the present value of the rail: its
// channel still stands there and answered not long ago, with a value.
func (c collection) standsOn(rv live.RailView, l *live.Last) bool {
	if !rv.Live || !c.snap.Present(l) || !l.Reading.Good() {
		return false
	}
	v, ok := c.snap.Channel(l.Reading.Channel)
	return !ok || v.Info.Group == "" || v.Selected
}

func uncertainty(rv live.RailView) float64 {
	for _, v := range rv.Verdicts {
		if v.Unit == "V" && v.Uncertainty > 0 && (v.Channel == "" || v.Channel == rv.Volts.Reading.Channel) {
			return v.Uncertainty
		}
	}
	return 0
}

// observed is the sum of apertures over the span of the trace: the share of
// time in which the meter looked at all.
func (c collection) observed(rv live.RailView) (float64, bool) {
	info, ok := c.snap.Channel(rv.Volts.Reading.Channel)
	if !ok || info.Info.Aperture <= 0 || len(rv.Trace) == 0 {
		return 0, false
	}
	n, from, to := 0, rv.Trace[0].From, rv.Trace[len(rv.Trace)-1].To
	for _, b := range rv.Trace {
		n += b.N
	}
	span := to.Sub(from)
	if n == 0 || span < time.Second {
		return 0, false
	}
	return min(1, float64(n)*info.Info.Aperture.Seconds()/span.Seconds()), true
}

func (c collection) point(job string, p live.PointView) {
	if !c.snap.Present(p.Last) || !p.Last.Reading.Good() {
		return
	}
	d := map[capture.Unit]*prometheus.Desc{capture.Volt: pointVolts, capture.Ampere: railAmperes, capture.Celsius: pointCelsius}[p.Last.Reading.Quantity.Unit()]
	if d == nil {
		return
	}
	c.gauge(d, p.Last.Reading.Value, append(c.at(job, p.Placement.Rail, p.Channel), p.Placement.Point)...)
}

func (c collection) channel(v live.ChannelView) {
	in, ch := v.Info.ID.Instrument(), v.Info.ID.Input()
	if _, ours := c.snap.Instrument(in); !ours {
		return // read by eye: a channel for each job and unit, without a poll
	}
	for _, outcome := range capture.Outcomes() {
		c.counter(readings, float64(v.Outcomes[outcome]), in, ch, outcome)
	}
	if v.LastGood != 0 {
		c.gauge(lastReading, float64(v.LastGood)/1e6, in, ch)
	}
	if v.Exchange > 0 {
		c.gauge(exchange, v.Exchange, in, ch)
	}
}

func (c collection) storeOf(s StoreStat) {
	c.gauge(storeBytes, float64(s.Bytes), s.Job)
	c.gauge(storeQueue, float64(s.Queued), s.Job)
	c.counter(storeDropped, float64(s.Dropped), s.Job)
	c.counter(storeErrors, float64(s.Errors), s.Job)
}

func (c collection) spaceOf(s SpaceStat) {
	if s.Free >= 0 {
		c.gauge(spaceFree, float64(s.Free))
	}
	if s.Rate >= 0 {
		c.gauge(spaceRate, s.Rate)
	}
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
