package comparison

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/rules"
	"steadyrail/rules/notify"
)

// BenchmarkReadingToWebhook measures the way from a reading that has been
// taken to the request that arrives at a webhook on loopback: through the bus,
// with the job's file, its book and the live table on it as in the daemon, the
// engine with every rule that follows from the rail, the dispatcher and HTTP.
// The sub-benchmark bare is the baseline: a plain http.Client that posts the
// same body to the same server over a connection that is kept.
//
// Each op is one alarm. The percentiles are over all of them: with -benchtime
// 500x over 500. Target: p99 at most 10 ms.
func BenchmarkReadingToWebhook(b *testing.B) {
	var body []byte
	b.Run("house", func(b *testing.B) {
		c := newChain(b)
		body = c.measure(b)
	})
	b.Run("bare", func(b *testing.B) {
		if body == nil {
			body = bytes.Repeat([]byte("x"), 900)
		}
		a := newArrivals(b)
		client := &http.Client{Transport: &http.Transport{}}
		b.Cleanup(client.CloseIdleConnections)
		var delays []time.Duration
		for b.Loop() {
			begun := time.Now()
			answer, err := client.Post(a.URL, "application/json", bytes.NewReader(body))
			if err != nil {
				b.Fatal(err)
			}
			delays = append(delays, (<-a.seen).at.Sub(begun))
			_, _ = io.Copy(io.Discard, answer.Body) // it is empty
			if err := answer.Body.Close(); err != nil {
				b.Fatal(err)
			}
		}
		reportDelays(b, delays)
	})
}

func reportDelays(b *testing.B, delays []time.Duration) {
	for _, p := range []struct {
		unit  string
		share float64
	}{{"µs-p50", 0.5}, {"µs-p99", 0.99}, {"µs-max", 1}} {
		b.ReportMetric(float64(quantile(delays, p.share).Nanoseconds())/1000, p.unit)
	}
}

// arrivals is a webhook that says when each request arrived.
type arrivals struct {
	*httptest.Server
	seen chan arrival
}

type arrival struct {
	at   time.Time
	body []byte
}

func newArrivals(tb testing.TB) *arrivals {
	a := &arrivals{seen: make(chan arrival, 1)}
	a.Server = httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		at := time.Now()
		body, _ := io.ReadAll(r.Body) // what is cut off is seen as another body
		a.seen <- arrival{at, body}
	}))
	tb.Cleanup(a.Close)
	return a
}

// handClock is bench time that stands until it is turned on by hand: what lies
// between two alarms need not be waited for.
type handClock struct{ now atomic.Int64 }

func (c *handClock) Now() capture.Instant { return capture.Instant(c.now.Load()) }

func (c *handClock) After(time.Duration) (<-chan time.Time, func()) { return nil, func() {} }

func (c *handClock) pass(d time.Duration) { c.now.Add(d.Microseconds()) }

// chain is what lies between a poller and a webhook, put together as in the
// daemon.
type chain struct {
	arrivals *arrivals
	clock    *handClock
	bus      *bus.Bus
}

func newChain(b *testing.B) *chain {
	b.Helper()
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	rails, err := capture.ParseRails("+5 2% logic")
	must(err)
	sheet := capture.Sheet{Job: jobID, Bench: "east", Technician: "R. Hale", Rails: rails}
	workspace, err := store.OpenWorkspace(filepath.Join(b.TempDir(), "bench"), store.Options{})
	must(err)
	b.Cleanup(func() { must(workspace.Close()) })
	file, err := workspace.Create(sheet)
	must(err)
	b.Cleanup(func() { must(file.Close(context.Background())) })

	c := &chain{arrivals: newArrivals(b), clock: &handClock{}}
	c.clock.now.Store(int64(capture.InstantOf(time.Now())))
	dispatcher := notify.New(notify.Options{GroupAfter: 1 << 30}, notify.NewWebhook("", c.arrivals.URL, 0))
	b.Cleanup(func() { must(dispatcher.Close(context.Background())) })
	c.bus = bus.New(c.clock)
	table := live.New("east", false, nil)
	c.bus.Attach("", table)
	c.bus.Attach(jobID, file)
	c.bus.Attach(jobID, new(job.Book))
	c.bus.Attach(jobID, &judging{engine: rules.New(""), file: file, table: table, dispatcher: dispatcher, rail: rails[0]})

	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{{
		ID: volts, Quantity: capture.DCVoltage, Every: pollEvery, Aperture: 20 * time.Millisecond}}}}}
	set := capture.RuleSet{Rules: rules.Implied(sheet, roster), Engine: rules.Version}
	_, err = c.bus.PostAll(jobID, job.OpenItems(sheet, roster, set, []capture.ChannelID{volts}, "R. Hale")...)
	must(err)
	_, err = c.bus.PostAll(jobID,
		capture.Placement{Channel: volts, Rail: five, Point: "TP5", Return: "0 V", Hold: capture.Clipped},
		capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
	must(err)
	return c
}

// judging is what the daemon does with a record that may have led to something.
type judging struct {
	engine     *rules.Engine
	file       *store.Job
	table      *live.Table
	dispatcher *notify.Dispatcher
	rail       capture.Rail
}

func (j *judging) Consume(rec capture.Record) {
	out := j.engine.Consume(rec)
	for _, t := range out.Transitions {
		j.file.Transition(t)
		j.table.SetTransition(jobID, t)
		if !notify.Tells(t) {
			continue
		}
		m := notify.Message{Alarm: t, Bench: "east", Job: jobID, Rail: j.rail, Links: map[string]string{"alarms": "http://127.0.0.1:8470/alarms"}}
		if r, ok := rec.Item.(capture.Reading); ok {
			m.Taken = r.Measured
		}
		j.dispatcher.Send(m)
	}
	if len(out.Verdicts) > 0 {
		j.table.SetVerdicts(jobID, out.Verdicts)
	}
}

// read hands a reading to the bus as a poller does.
func (c *chain) read(v float64) {
	now := c.clock.Now()
	c.bus.ReadBegun(capture.Reading{
		Channel: volts, Quantity: capture.DCVoltage, Value: v, Resolution: 1e-5, Range: 10,
		Measured: now.Add(-10 * time.Millisecond), HalfWidth: time.Millisecond,
	}, now.Add(-20*time.Millisecond))
}

// measure raises one collapse after the other, 30 s of bench time apart so that
// none is muted as chatter, and returns the body of one notice.
func (c *chain) measure(b *testing.B) (body []byte) {
	var delays []time.Duration
	for b.Loop() {
		b.StopTimer()
		for range 30 * time.Second / pollEvery {
			c.clock.pass(pollEvery)
			c.read(5.0012)
		}
		c.clock.pass(pollEvery)
		b.StartTimer()
		begun := time.Now()
		c.read(3.0871)
		told := <-c.arrivals.seen
		delays = append(delays, told.at.Sub(begun))
		b.StopTimer()
		body = told.body
		if !bytes.Contains(body, []byte(`"kind":"collapse"`)) || !bytes.Contains(body, []byte(`"state":"active"`)) {
			b.Fatalf("this is no news of a collapse: %s", body)
		}
		c.clock.pass(pollEvery)
		c.read(5.0012)
		<-c.arrivals.seen // that it went away unheard is told too
		if _, err := c.bus.Post(jobID, capture.Act{Verb: capture.ActReset, Subject: five}); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
	}
	reportDelays(b, delays)
	return body
}
