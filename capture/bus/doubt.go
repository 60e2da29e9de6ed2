package bus

import "steadyrail/capture"

// doubt is whether anybody knows which instrument answers under a name.
type doubt struct {
	standing bool
	lifted   capture.Instant // what was begun up to here is in doubt, too
}

func (d doubt) at(begun capture.Instant) bool { return d.standing || begun <= d.lifted }

// doubtful reports whether a reading says something under a name that may be
// another's. That nobody answers is true of whoever does not.
func (b *Bus) doubtful(r capture.Reading, begun capture.Instant) bool {
	return !r.Flags.Has(capture.Disconnected|capture.Mismatch) && b.doubts[r.Channel.Instrument()].at(begun)
}

// Doubt says that nobody knows which instrument answers under a name, or that
// it is known again. The values of an instrument in doubt, and those whose
// measuring had begun before the doubt was lifted, belong to no job: they reach
// the bench-wide sinks alone.
func (b *Bus) Doubt(instrument string, doubtful bool) {
	b.lock()
	defer b.unlock()
	was := b.doubts[instrument]
	switch {
	case doubtful:
		b.doubts[instrument] = doubt{standing: true}
	case was.standing:
		b.doubts[instrument] = doubt{lifted: b.stamp()}
	}
}
