package capture

import "slices"

// OffSpan is a stretch in which a set was meant to be without power: by the stage of
// the job, or because somebody had switched an output off. What a supply did by itself
// is none.
type OffSpan struct {
	Stage    Stage  // empty: an output was off
	Output   string // "psu/1", or "psu" for all of it
	From, To Instant
	Fell     []RailFell // since it began, before the next did
}

// RailFell is when alarms said that a rail under power had too little: one that came
// up all the same, or did not when there was power again.
type RailFell struct {
	Rail        string
	First, Last Instant
}

// Fell reports whether a kind of rule says that a rail under power has too little.
func Fell(kind string) bool { return kind == "collapse" || kind == "missing" || kind == "band" }

// PowerOff folds a whole job's spans without power. It grows by one span for each
// stage and each switching off, and by one alarm for each rail in it. The zero value is
// ready; it is not safe for concurrent use, but what Spans returned does not change.
type PowerOff struct{ spans []OffSpan }

// Spans lists them in order of their beginning. It is not to be changed.
func (p *PowerOff) Spans() []OffSpan { return p.spans }

// Act takes the next act of the job. An announced switching off counts, and its
// being off goes on with it.
func (p *PowerOff) Act(at Instant, act Act) {
	switch act.Verb {
	case ActStage:
		p.turn(at, OffSpan{Stage: act.Stage}, act.Stage.Cold(), func(s OffSpan) bool { return s.Stage != "" })
	case ActOutput:
		off := act.Text == "off" || act.Text == SwitchingOff
		p.turn(at, OffSpan{Output: act.Subject}, off, func(s OffSpan) bool { return s.Stage == "" && SameOutput(act.Subject, s.Output) })
	}
}

// turn ends the spans that hold no more and begins one where there is no power now.
func (p *PowerOff) turn(at Instant, now OffSpan, off bool, meant func(OffSpan) bool) {
	next := slices.Clone(p.spans)
	for i := range next {
		s := &next[i]
		switch {
		case s.To != 0 || !meant(*s):
		case off && s.Stage == now.Stage && s.Output == now.Output:
			return
		default:
			s.To = at
		}
	}
	if now.From = at; off {
		next = append(next, now)
	}
	p.spans = next
}

// Alarm takes a step of an alarm of the job.
func (p *PowerOff) Alarm(t Transition) {
	if !Fell(t.Kind) {
		return
	}
	for i := len(p.spans) - 1; i >= 0; i-- {
		s := p.spans[i]
		newest := i == len(p.spans)-1 || t.Raised <= p.spans[i+1].From
		if t.Raised > s.From && (s.To == 0 || t.Raised < s.To || newest) {
			p.fell(i, t.Rail, t.Raised)
		}
	}
}

// fell adds an alarm to a span: in new slices, for the old ones were handed out.
func (p *PowerOff) fell(i int, rail string, at Instant) {
	list := slices.Clone(p.spans[i].Fell)
	k := slices.IndexFunc(list, func(f RailFell) bool { return f.Rail == rail })
	switch {
	case k < 0:
		list = append(list, RailFell{rail, at, at})
	case at < list[k].First || at > list[k].Last:
		list[k].First, list[k].Last = min(at, list[k].First), max(at, list[k].Last)
	default:
		return
	}
	p.spans = slices.Clone(p.spans)
	p.spans[i].Fell = list
}

// ColdSpan is a stretch in which a rail was without power because somebody wanted it.
type ColdSpan struct {
	From, To Instant // To is 0 while it lasts
	Why      string  // "the stage is cold checks", "psu/1 is off"
}

// Cold lists when a rail was without power: in the stages for that, and while an
// output was off that feeds it, or may feed it where the sheet does not say what does.
// An alarm of the rail ends the latter: it was fed from elsewhere. Fell lists the
// first and the last alarm before, within and after each, by which it was under power,
// or should have been.
func (s Sheet) Cold(rail Rail, offs []OffSpan, instrument func(name string) bool) (cold []ColdSpan, fell []Instant) {
	for _, off := range offs {
		span := ColdSpan{off.From, off.To, off.Output + " is off"}
		if off.Stage != "" {
			span.Why = "the stage is " + string(off.Stage)
		} else if feeds, _ := s.Feeds(off.Output, rail, instrument); !feeds {
			continue
		}
		for _, f := range off.Fell {
			if f.Rail != rail.Name {
				continue
			}
			fell = append(fell, f.First, f.Last)
			if off.Stage == "" && (span.To == 0 || f.First < span.To) {
				span.To = f.First
			}
		}
		cold = append(cold, span)
	}
	return cold, fell
}
