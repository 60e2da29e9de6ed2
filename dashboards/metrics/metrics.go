package metrics

import (
	"net/http"
	"runtime"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// Options is what the metrics are made from. Snapshot is required.
type Options struct {
	Snapshot func() live.Snapshot
	Store    func() []StoreStat // nil: no store metrics
	Space    func() SpaceStat   // nil: the disk's room is not known
	// Clock tells whether the computer's clock is kept by a time server, and
	// whether that can be known; nil: it cannot.
	Clock    func() (synchronised, known bool)
	Version  string
	Revision string
}

// StoreStat is how the file of one job fares.
type StoreStat struct {
	Job     string
	Bytes   int64  // size of the file with its log
	Queued  int    // readings that wait for their commit
	Dropped uint64 // readings lost because the disk could not follow
	Errors  uint64 // commits that did not succeed
}

// SpaceStat is how much room the workspace's disk has for the record.
type SpaceStat struct {
	Free int64   // bytes; below 0: not known
	Rate float64 // bytes that the record grows a second; below 0: not known yet
}

// Metrics is the registry of one daemon.
type Metrics struct {
	registry  *prometheus.Registry
	detection prometheus.Histogram
	trip      *prometheus.HistogramVec
	alarms    *alarmCounter
}

// New registers everything on a registry of its own.
func New(o Options) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		detection: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "steadyrail_detection_delay_seconds", Help: "From the answer of the reading that decided to the notice handed to the notifiers, in wall time.",
			Buckets: []float64{.0001, .00025, .0005, .001, .0025, .005, .01, .025, .05, .1, .25, 1},
		}),
		trip: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "steadyrail_trip_delay_seconds",
			Help:    "Until an output read back as off, in wall time: by a trip, from the reading that raised its alarm; by a person, from the act.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5},
		}, []string{"by"}),
		alarms: &alarmCounter{counts: map[alarmKey]float64{}},
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "steadyrail_build_info", Help: "1, with what was built in the labels.",
		ConstLabels: prometheus.Labels{"version": o.Version, "revision": o.Revision, "goversion": runtime.Version()}})
	build.Set(1)
	for _, by := range []string{"trip", "person"} { // there from the start: what is not there cannot be watched
		m.trip.WithLabelValues(by)
	}
	m.registry.MustRegister(m.detection, m.trip, build, &bench{snapshot: o.Snapshot, store: o.Store, space: o.Space, clock: o.Clock, alarms: m.alarms},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Handler serves the page.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{Registry: m.registry, ErrorHandling: promhttp.ContinueOnError})
}

// Gatherer returns the registry, for tests and for pushing.
func (m *Metrics) Gatherer() prometheus.Gatherer { return m.registry }

// Detected records how long an alarm took from the answer of the reading that
// decided to its notice.
func (m *Metrics) Detected(delay time.Duration) { m.detection.Observe(delay.Seconds()) }

// Tripped records how long a trip took, from the reading that raised its alarm
// until the output read back as off.
func (m *Metrics) Tripped(delay time.Duration) {
	m.trip.WithLabelValues("trip").Observe(delay.Seconds())
}

// SwitchedOff records how long a person's off took, from the act until the output
// read back as off. It has a label of its own: no reading had to come first.
func (m *Metrics) SwitchedOff(delay time.Duration) {
	m.trip.WithLabelValues("person").Observe(delay.Seconds())
}

// Transition counts alarms as they are raised.
func (m *Metrics) Transition(job string, t capture.Transition) { m.alarms.count(job, t) }

type alarmKey struct{ job, rule, rail, severity string }

// alarmCounter counts raised alarms of each job.
type alarmCounter struct {
	mu     sync.Mutex
	counts map[alarmKey]float64
}

// count takes every transition and counts those that raise an occurrence, or
// raise it again after it had gone away.
func (a *alarmCounter) count(job string, t capture.Transition) {
	if !t.To.IsActive() || t.From.IsActive() {
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.counts[alarmKey{job, t.Rule, t.Rail, t.Severity.String()}]++
}

// of returns the counts of open jobs and forgets the others.
func (a *alarmCounter) of(open map[string]bool) map[alarmKey]float64 {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := map[alarmKey]float64{}
	for k, n := range a.counts {
		if !open[k.job] {
			delete(a.counts, k)
			continue
		}
		out[k] = n
	}
	return out
}
