package live

import (
	"slices"

	"steadyrail/capture"
)

const (
	mostPast    = 50
	mostEntries = 200
)

// job is what the table knows of an open job.
type job struct {
	sheet      capture.Sheet
	say        func(capture.Act) string
	placements capture.Placements
	rails      map[string]*newest
	filed      map[spot]*Last // newest reading by placement, to refile after a correction
	backward   map[spot]bool  // that reading was taken with the leads exchanged
	ways       capture.Polarities
	stages     []capture.StageSpan
	cautioned  []string // keys of the cautions that were read
	soak       *SoakView
	entries    []capture.Entry
	alarms     []capture.Transition  // not normal, in order of raising
	courses    []capture.AlarmCourse // of these, one for each
	past       []capture.Transition  // newest first
	mutes      capture.Mutes
	verdicts   []capture.Verdict // in order of first appearance
	derived    []capture.Derived // in order of first appearance
	trips      map[string]string // by rule
	off        capture.PowerOff
	byEye      []capture.Verdict // the newest on a value read by eye, one for each rule
}

// newest is the newest of a rail. Ohms read with the leads exchanged stand until
// the leads are said to be the right way round again.
type newest struct{ volts, ohms, forward *Last }

// spot is one stand of one channel.
type spot struct {
	ch     capture.ChannelID
	placed capture.Instant
}

func newJob(at capture.Instant, sheet capture.Sheet, say func(capture.Act) string) *job {
	return &job{
		sheet: sheet, say: say, rails: map[string]*newest{}, filed: map[spot]*Last{}, backward: map[spot]bool{},
		stages: []capture.StageSpan{{Stage: capture.TakeIn, From: at}},
	}
}

func (j *job) stage() capture.StageSpan { return j.stages[len(j.stages)-1] }

// file puts a reading under the rail its channel stands on.
func (j *job) file(c *channel, placed capture.Instant, rail string, last *Last) {
	if !c.measuresVolts() && !c.measuresOhms() {
		return
	}
	at := spot{c.info.ID, placed}
	j.filed[at] = last
	if c.measuresOhms() {
		j.backward[at] = j.ways.Reversed(c.info.ID)
	}
	j.show(c, rail, last, j.backward[at])
}

func (j *job) show(c *channel, rail string, last *Last, backward bool) {
	if rail == "" {
		return
	}
	n := j.rails[rail]
	if n == nil {
		n = &newest{}
		j.rails[rail] = n
	}
	if c.measuresVolts() && (n.volts == nil || n.volts.At < last.At) {
		n.volts = last
	}
	if c.measuresOhms() && (n.ohms == nil || n.ohms.At < last.At) {
		n.ohms = last
	}
	if c.measuresOhms() && !backward && (n.forward == nil || n.forward.At < last.At) {
		n.forward = last
	}
}

// turned hears which way round resistances are measured from now on.
func (j *job) turned(a capture.Act) {
	j.ways.Take(a)
	j.rightWay()
}

// rightWay puts the ohms of rails that nobody reads backwards now in their place.
func (j *job) rightWay() {
	for _, n := range j.rails {
		if n.forward != nil && !j.ways.Reversed(n.ohms.Reading.Channel) {
			n.ohms = n.forward
		}
	}
}

func (t *Table) placement(at capture.Instant, j *job, p capture.Placement) {
	c := t.channel(p.Channel, capture.NoQuantity)
	old, _ := j.placements.At(p.Channel, p.Corrects)
	if j.placements.Apply(at, p) != nil {
		return // the bus lets no such correction pass
	}
	if p.Corrects != 0 {
		t.refile(j)
		j.enter(at, capture.Act{}, sayCorrected(old, p))
		return
	}
	c.job = j
}

// refile files everything of a job again: rare, and only a person does it.
func (t *Table) refile(j *job) {
	j.rails = map[string]*newest{}
	for s, last := range j.filed {
		if p, ok := j.placements.At(s.ch, s.placed); ok {
			j.show(t.channel(s.ch, last.Reading.Quantity), p.Rail, last, j.backward[s])
		}
	}
	j.rightWay()
	for _, c := range t.order {
		c.refile(j)
	}
}

func (j *job) act(at capture.Instant, a capture.Act) {
	j.off.Act(at, a)
	switch a.Verb {
	case capture.ActStage:
		if j.stage().Stage == a.Stage {
			break // a job opens in its first stage, and then says so
		}
		j.stages[len(j.stages)-1].To = at
		j.stages = append(j.stages, capture.StageSpan{Stage: a.Stage, From: at, Reason: a.Text})
	case capture.ActSoak:
		j.soakAct(at, a)
	case capture.ActMute:
		j.mutes = j.mutes.With(at, a)
	case capture.ActPolarity:
		j.turned(a)
	case capture.ActCaution:
		j.cautioned = append(j.cautioned, a.Subject)
	}
	j.enter(at, a, j.say(a))
}

func (j *job) soakAct(at capture.Instant, a capture.Act) {
	switch {
	case a.Text == "start":
		j.soak = &SoakView{From: at, Planned: a.Value}
	case a.Text == "stop" && j.soak != nil && j.soak.To == 0:
		done := *j.soak // the old one may be in a snapshot that is being copied
		done.To = at
		j.soak = &done
	}
}

func (j *job) enter(at capture.Instant, a capture.Act, text string) {
	j.entries = append(j.entries, capture.Entry{At: at, Stage: j.stage().Stage, Act: a, Text: text})
	if len(j.entries) > 2*mostEntries {
		j.entries = append([]capture.Entry(nil), j.entries[len(j.entries)-mostEntries:]...)
	}
}

// rules drops the verdicts of rules that are no more.
func (j *job) rules(set capture.RuleSet) {
	keep := map[string]bool{}
	j.trips = map[string]string{} // a new one: snapshots hold the old
	for _, r := range set.Rules {
		keep[r.Name] = true
		if r.Trip != "" {
			j.trips[r.Name] = r.Trip
		}
	}
	var left []capture.Verdict
	for _, v := range j.verdicts {
		if keep[v.Rule] {
			left = append(left, v)
		}
	}
	j.verdicts = left
}

// transition notes the latest step of an alarm.
func (j *job) transition(t capture.Transition) {
	j.off.Alarm(t)
	i := slices.IndexFunc(j.alarms, func(a capture.Transition) bool { return a.Alarm == t.Alarm })
	switch {
	case t.To == capture.Normal:
		if i >= 0 {
			j.alarms = slices.Delete(slices.Clone(j.alarms), i, i+1)
			j.courses = slices.Delete(slices.Clone(j.courses), i, i+1)
		}
		j.past = append([]capture.Transition{t}, j.past[:min(len(j.past), mostPast-1)]...)
	case i >= 0:
		j.alarms = slices.Clone(j.alarms)
		j.alarms[i] = t
		j.courses = slices.Clone(j.courses)
		j.courses[i].Take(t)
	default:
		j.alarms = append(slices.Clip(j.alarms), t)
		j.courses = append(slices.Clip(j.courses), capture.AlarmCourse{})
		j.courses[len(j.courses)-1].Take(t)
	}
}

// standing returns the verdict to show for a rule. No probe stays after a value
// was read by eye, and the rule has nothing to go by any more; what it said of
// the value holds for as long as the value is the one that is shown.
func (j *job) standing(v capture.Verdict, shown *Last) capture.Verdict {
	if v.Outcome != capture.NoData || shown == nil {
		return v
	}
	for _, was := range j.byEye {
		if was.Rule == v.Rule && was.Channel == shown.Reading.Channel && was.To == shown.At {
			return was
		}
	}
	return v
}

func (j *job) verdict(v capture.Verdict) {
	if _, eye := v.Channel.ByEyeMeter(); eye && v.Outcome != capture.NoData {
		j.byEye = slices.DeleteFunc(j.byEye, func(o capture.Verdict) bool { return o.Rule == v.Rule })
		j.byEye = append(j.byEye, v)
	}
	j.verdicts = slices.Clone(j.verdicts)
	for i := range j.verdicts {
		if j.verdicts[i].Rule == v.Rule {
			j.verdicts[i] = v
			return
		}
	}
	j.verdicts = append(j.verdicts, v)
}
