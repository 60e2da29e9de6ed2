package kind

import (
	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// above is the difference of two channels with its uncertainty. Of one instrument
// they have the error of gain in common, which cancels as far as both are as warm;
// all else is taken as each channel's own. That is cautious for two thermocouples
// at one terminal block, whose error of the cold junction cancels too: no maker's
// statement tells that part apart. Two instruments are taken as independent.
type above struct {
	own, air uncertainty.Statement
}

// heard states the newest reading of the judge's own channel.
func (d *above) heard(b *base) { b.again(&d.own, &sample{mean: b.last.Value, n: 1, like: &b.last}) }

// beside states a reading of the other channel. What a formula's figure may be off
// is told for the judge's own channel alone, so such a one stays unstated.
func (d *above) beside(b *base, r *capture.Reading) {
	s := sample{mean: r.Value, n: 1, like: r, room: b.ambient()}
	in := s.input(&b.seat.Beside)
	d.air.Again(&in)
}

// state is the difference. With notes it takes memory, and is for a verdict only.
func (d *above) state(b *base, notes bool) uncertainty.Statement {
	own, air := d.own, d.air
	if !notes {
		own.Notes, air.Notes = nil, nil
	}
	shared := b.seat.Channel.ID.Instrument() == b.seat.Beside.ID.Instrument()
	return uncertainty.Difference(own, air, shared)
}
