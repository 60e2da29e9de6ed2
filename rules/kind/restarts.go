package kind

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// restarts judges whether a rail collapses again and again within a window: a
// supply that starts, finds a fault and starts anew. What a collapse is, the
// kind collapse says; the rule's limit is a collapse's.
//
// The count is a least one, and the period is not told, unless both are known to
// be no illusion: five readings fall into a period, and either the readings are
// unevenly spaced or each looks for nearly as long as the next one takes to
// come. A train of 190 ms polled every 200 ms looks exactly like one of 3.8 s.
type restarts struct {
	base
	falls   *collapse
	ring    [restartRing]restart
	n       int // falls seen since it is armed
	reads   int // good readings since it is armed
	spacing spacing
}

// restart is one fall: when it was seen, and how many readings came before it.
type restart struct {
	at    capture.Instant
	reads int
}

const (
	// RestartCount is how many falls within the window are restarts, unless the
	// rule says otherwise; RestartWindow is the least window, and a window holds
	// at least restartReadings readings for each of the falls.
	RestartCount    = 3
	RestartWindow   = time.Minute
	restartReadings = 50
	restartRing     = 64
	// restartPeriod is how many readings a period must hold to be told.
	restartPeriod = 5
	// unevenShare is how uneven spacing must be, as a part of its mean, to break
	// an illusion of lock-step; openShare is the part of an interval that a
	// reading must look for to see a fast train as its mean.
	unevenShare = 0.1
	openShare   = 0.8
)

func newRestarts(c Case) Judge {
	inner := c
	inner.Rule.Window = 0
	return &restarts{base: base{Case: c}, falls: newCollapse(inner).(*collapse)}
}

func (r *restarts) least() int {
	if r.Rule.Count > 0 {
		return min(r.Rule.Count, restartRing)
	}
	return RestartCount
}

func (r *restarts) window() time.Duration {
	readings := time.Duration(r.least()*restartReadings) * r.seat.Channel.Every
	return orDefault(r.Rule.Window, max(RestartWindow, readings))
}

func (r *restarts) Sit(at capture.Instant, seat Seat) {
	r.base.Sit(at, seat)
	r.falls.Sit(at, seat)
	r.forget()
}

func (r *restarts) Arm(at capture.Instant, a Arming) {
	if a.Armed != r.arming.Armed {
		r.forget()
	}
	r.base.Arm(at, a)
	r.falls.Arm(at, a)
}

func (r *restarts) Blind(at capture.Instant) { r.lastAt = 0; r.falls.Blind(at); r.spacing = spacing{} }

func (r *restarts) forget() { r.n, r.reads, r.spacing = 0, 0, spacing{} }

func (r *restarts) Read(at capture.Instant, v *capture.Reading) {
	if !r.keep(at, v) || !r.arming.Armed {
		return
	}
	r.reads++
	r.spacing.add(v.Sampled(at))
	before := r.falls.count
	if r.falls.Read(at, v); r.falls.count > before {
		r.ring[r.n%restartRing] = restart{v.Sampled(at), r.reads}
		r.n++
	}
}

// recent counts the falls within the window before now, and returns the first.
func (r *restarts) recent() (n int, first restart) {
	for n < min(r.n, restartRing) {
		f := r.ring[(r.n-1-n)%restartRing]
		if r.now.Sub(f.at) > r.window() {
			break
		}
		n, first = n+1, f
	}
	return n, first
}

func (r *restarts) Condition() Condition {
	if r.lastAt == 0 {
		return Unknown
	}
	if n, _ := r.recent(); n >= r.least() {
		return Present
	}
	if !r.known() {
		return Unknown
	}
	return Absent
}

func (r *restarts) Outcome() capture.Outcome {
	switch {
	case !r.arming.Armed:
		return capture.NoData
	case r.Condition() == Present:
		return capture.Fail
	case !r.known() || r.falls.inBandAt == 0:
		return capture.NoData
	}
	return capture.Pass
}

func (r *restarts) Verdict() capture.Verdict {
	v := r.blank(r.unwatched())
	v.Outcome, v.From, v.To = r.Outcome(), r.armedAt, r.lastAt
	n, _ := r.recent()
	v.Value, v.N = float64(n), n
	switch {
	case v.Outcome == capture.Fail:
		v.Say = "Restarts: " + r.train()
	case !r.arming.Armed:
	case v.Outcome == capture.NoData && !r.known():
		v.Say = "No reading"
	case v.Outcome == capture.NoData:
		v.Say = "Not watched yet: it was not in its band"
	case n > 0:
		v.Say = fmt.Sprintf("Fell %s within %s s, restarts are %d", times(n), seconds(r.window()), r.least())
	default:
		v.Say = "No restarts seen"
	}
	return v
}

// train says how often, and how far apart where that can be told.
func (r *restarts) train() string {
	n, first := r.recent()
	if n < 2 {
		return fmt.Sprintf("at least %d, period not resolvable", n)
	}
	last := r.ring[(r.n-1)%restartRing]
	span := last.at.Sub(first.at)
	if !r.resolves(float64(last.reads-first.reads) / float64(n-1)) {
		return fmt.Sprintf("at least %d within %s s, period not resolvable", n, seconds(span))
	}
	periods, step := time.Duration(n-1), r.spacing.mean() // a fall may be an interval older than its first reading
	return fmt.Sprintf("%d within %s s, one every %s to %s s", n, seconds(span), floor((span-step)/periods), seconds((span+step)/periods))
}

// resolves reports whether so many readings to a period show what it is.
func (r *restarts) resolves(readings float64) bool {
	open := r.seat.Channel.Every > 0 && r.seat.Channel.Aperture.Seconds() >= float64(openShare*r.seat.Channel.Every.Seconds())
	return readings >= restartPeriod && (open || r.spacing.uneven())
}

func (r *restarts) Finding() Finding {
	f := r.finding()
	f.Say = fmt.Sprintf("%s restarts: %s", r.Rail.Name, r.train())
	f.Advice = "unplug its loads one by one and feel what is warm; a slow meter shows the mean of a restart train, so a calm low reading is no evidence against one: look with its AC range or peak hold"
	return f
}

func (r *restarts) Recovery() Finding {
	f := r.finding()
	f.Say = fmt.Sprintf("%s restarts no more: fewer than %d falls within %s s", r.Rail.Name, r.least(), seconds(r.window()))
	return f
}

func (r *restarts) finding() Finding {
	n, first := r.recent()
	return Finding{Value: float64(n), Limit: float64(r.least()), Evidence: []capture.Instant{first.at, r.lastAt}}
}

// spacing gathers how evenly readings come.
type spacing struct {
	last   capture.Instant
	n      int
	sum    float64 // seconds
	square float64
}

func (s *spacing) add(at capture.Instant) {
	if s.last != 0 && at > s.last {
		d := at.Sub(s.last).Seconds()
		s.n, s.sum, s.square = s.n+1, s.sum+d, s.square+float64(d*d)
	}
	s.last = at
}

// mean is the mean interval.
func (s *spacing) mean() time.Duration {
	return time.Duration(float64(s.sum / float64(max(1, s.n)) * float64(time.Second)))
}

// uneven reports whether the intervals scatter by a tenth of their mean.
func (s *spacing) uneven() bool {
	if s.n < 2 || !(s.sum > 0) {
		return false
	}
	mean := s.sum / float64(s.n)
	variance := max(0, s.square/float64(s.n)-float64(mean*mean))
	return math.Sqrt(variance) >= float64(unevenShare*mean)
}
