package kind

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// short judges whether a rail is short to its return: resistance below the
// rail's own threshold. It says so only when the reading is steady, for an
// ohmmeter charges the rail's capacitors, and when the rail was proven dead
// shortly before, for ohms on a live or charged rail are nonsense.
//
// "No short" does not wait for the end: a charging capacitor can only make the
// reading too low, so one that still rises and is above the threshold by more
// than its uncertainty, and ordinary leads where they are not nulled, is enough
// ([rising] has the law). "Short" and "cannot tell" wait until it is steady.
//
// Open leads are never a short: the condition goes when the probe lifts.
type short struct {
	base
	run      steadyRun
	rise     rising // of readings that are above the limit for certain
	proof    proof
	charged  charged
	power    energised
	dead     bool // this contact began on a rail proven dead
	lead     float64
	leadU    float64 // standard uncertainty of lead
	nulled   bool
	nulls    Nulls
	nullEnds capture.Instant // of the null that is taken off
	stale    bool            // there was a null, and it has expired
	ways     ways
	joint    cooling
	value    float64 // newest, leads taken off
	fits     capture.Outcome
	u        uncertainty.Statement
	contact  bool
	held     word // newest that was judged, also after the contact
}

// What a resistance verdict asks for first.
const (
	// DeadBelow is the voltage above which no ohms verdict is given (common
	// practice).
	DeadBelow = 0.050
	// ProofLasts is how long a rail that was proven dead stays so unproven.
	ProofLasts = 60 * time.Second
	// SteadyFor is how long readings must agree before they are judged.
	SteadyFor = 600 * time.Millisecond
	// leadsAtMost is what ordinary leads add when they are not nulled, ohm
	// (common practice: 0.1 to 0.5).
	leadsAtMost = 0.5
	// contactLost is the pause between readings that ends a contact.
	contactLost = 5 * time.Second
)

// proof is the newest voltage reading on the rail, from any meter.
type proof struct {
	at    capture.Instant
	value float64
	res   float64
	toDo  string // about volts that are no proof, for people
}

func impliedShort(r capture.Rail) (capture.Rule, bool) {
	return impliedRule("short", r, capture.Warning), r.ShortBelow > 0
}

func newShort(c Case) Judge { return &short{base: base{Case: c}} }

func (s *short) limit() float64 {
	if s.Rule.Limit > 0 {
		return s.Rule.Limit
	}
	return s.Rail.ShortBelow
}

func (s *short) Sit(at capture.Instant, seat Seat) {
	s.base.Sit(at, seat)
	s.ways.sit(seat.Channel.ID)
	s.lift()
	s.takeNull(at)
}

func (s *short) Blind(capture.Instant) {
	s.lastAt, s.proof, s.charged = 0, proof{}, charged{}
	s.power.off = nil // nobody was there
	s.lift()
}

func (s *short) lift() {
	s.run, s.rise, s.dead, s.contact, s.fits = steadyRun{}, rising{}, false, false, capture.NoData
	s.joint.lift()
}

// Beside takes the proof that the rail is dead, or that it is not.
func (s *short) Beside(at capture.Instant, r *capture.Reading) {
	if r.Quantity == capture.DCVoltage && r.Good() {
		s.proof = proof{at: at, value: r.Value, res: r.Resolution}
		if !(abs(r.Value) < DeadBelow) {
			s.proof.toDo = firstDischarge
			if !s.power.mayBeOn() {
				s.proof.toDo = s.charged.toDo(s.proof, !s.power.ever)
			}
			s.dead = false
			s.overtaken(at, voltageSeen)
		}
	}
}

// Act takes nulled leads, and forgets the proof when power may have come, see
// [energised].
func (s *short) Act(at capture.Instant, act *capture.Act) {
	switch {
	case act.Verb == capture.ActNull:
		s.keepNull(at, act)
	case act.Verb == capture.ActLift, act.Verb == capture.ActPutBack:
		s.joint.take(at, act, s.Rail.Name)
		s.ways.forget()
		s.overtaken(at, act.Subject+map[bool]string{true: " was lifted", false: " was put back"}[act.Verb == capture.ActLift])
	case s.ways.take(act, s.seat.Channel.ID):
		s.lift()
	default:
		if why := s.power.take(act); why != "" {
			s.proof, s.charged, s.dead = proof{}, charged{}, false
			s.overtaken(at, why)
		}
	}
}

func (s *short) Read(at capture.Instant, r *capture.Reading) {
	if s.lastAt != 0 && at.Sub(s.lastAt) > contactLost {
		s.lift()
	}
	if !s.keep(at, r) {
		if r.Flags.Has(capture.OverRange) {
			s.lastAt = at
			s.lift()
		}
		return
	}
	if s.nulled && at > s.nullEnds {
		s.takeNull(at)
	}
	s.contact = true
	s.value = r.Value - s.taken(r)
	s.run.add(at, r.Sampled(at), s.value, r.Resolution)
	s.joint.add(at, s.value, r.Resolution, s.run.steady())
	s.dead = s.dead || s.proven(at)
	s.charged.keep(at, s.dead)
	s.decide(r)
	s.follow(at, r)
	if s.judged() {
		s.ways.keep(s.value, r.Resolution)
	}
	if s.hold(); s.negative() {
		s.overtaken(at, voltageSeen)
	}
}

// decide holds the reading against the threshold. Leads that were not nulled
// only add: what is short with them is short, what is not may be.
func (s *short) decide(r *capture.Reading) {
	s.u = s.state(sample{mean: s.value, like: r, n: 1, lead: s.leadU})
	s.fits, _ = uncertainty.Decide(s.value, s.u.Expanded, s.bounds())
	if !s.nulled && s.fits == capture.Pass && s.value-leadsAtMost < s.limit() {
		s.fits = capture.ConditionalPass
	}
	if s.wide() {
		s.fits = undecided(s.fits)
	}
}

// follow keeps the rise of readings that are no short, each for itself.
func (s *short) follow(at capture.Instant, r *capture.Reading) {
	if s.fits != capture.Pass {
		s.rise = rising{}
		return
	}
	s.rise.add(at, s.value, r)
}

func (s *short) bounds() capture.Bounds { return capture.Bounds{Low: s.limit(), High: math.Inf(1)} }

func (s *short) proven(at capture.Instant) bool {
	return s.proof.at != 0 && at.Sub(s.proof.at) <= ProofLasts && abs(s.proof.value) < DeadBelow
}

// negative resistance is a voltage in the rail.
func (s *short) negative() bool { return s.value < -max(0.5, 3*s.last.Resolution) }

func (s *short) judged() bool {
	return s.contact && s.dead && !s.negative() && s.run.steady() && !s.joint.warm(s.lastAt)
}

// bounded reports whether the reading is no short although it is not steady: more
// is to come, or it scatters far above the limit.
func (s *short) bounded() bool {
	return s.contact && s.dead && !s.run.steady() && s.rise.holds() && !s.joint.warm(s.lastAt)
}

func (s *short) Condition() Condition {
	switch {
	case s.lastAt == 0, s.contact && s.dead && s.joint.warm(s.lastAt):
		return Unknown
	case s.judged() && s.fits == capture.Fail:
		return Present
	}
	return Absent
}

func (s *short) Outcome() capture.Outcome {
	switch {
	case !s.contact:
		return capture.NoData
	case s.over():
		return capture.NoData // what was judged before stands: it is told as held
	case s.negative() || !s.dead:
		return capture.ConditionalFail
	case s.bounded():
		return capture.Pass
	case !s.run.steady() || s.joint.warm(s.lastAt):
		return capture.NoData
	}
	return s.fits
}
