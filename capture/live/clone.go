package live

import (
	"maps"
	"slices"

	"steadyrail/capture"
)

// clone returns a copy that shares nothing with s.
func (s *Snapshot) clone() Snapshot {
	out := *s
	out.Jobs = each(s.Jobs, JobView.clone)
	out.Channels = each(s.Channels, ChannelView.clone)
	out.Instruments = each(s.Instruments, InstrumentView.clone)
	out.Notifiers = slices.Clone(s.Notifiers)
	return out
}

func each[T any](in []T, clone func(T) T) []T {
	if in == nil {
		return nil
	}
	out := make([]T, len(in))
	for i, v := range in {
		out[i] = clone(v)
	}
	return out
}

func pointed[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

func (v JobView) clone() JobView {
	v.Sheet.Rails = each(v.Sheet.Rails, cloneRail)
	v.Sheet.NotChecked = slices.Clone(v.Sheet.NotChecked)
	v.Stages = slices.Clone(v.Stages)
	v.Soak = pointed(v.Soak)
	v.Rails = each(v.Rails, RailView.clone)
	v.Points = each(v.Points, PointView.clone)
	v.Derived = slices.Clone(v.Derived)
	v.Alarms = each(v.Alarms, cloneTransition)
	v.Past = each(v.Past, cloneTransition)
	v.Courses = each(v.Courses, cloneCourse)
	v.Mutes = slices.Clone(v.Mutes)
	v.Entries = slices.Clone(v.Entries)
	v.Cautioned = slices.Clone(v.Cautioned)
	return v
}

func cloneCourse(c capture.AlarmCourse) capture.AlarmCourse {
	c.Raised = cloneTransition(c.Raised)
	for _, step := range []**capture.Transition{&c.Worst, &c.Ended} {
		if *step != nil {
			t := cloneTransition(**step)
			*step = &t
		}
	}
	return c
}

func (v RailView) clone() RailView {
	v.Rail = cloneRail(v.Rail)
	v.Volts, v.Ohms = pointed(v.Volts), pointed(v.Ohms)
	v.Verdicts = slices.Clone(v.Verdicts)
	v.Trace = slices.Clone(v.Trace)
	return v
}

func (v PointView) clone() PointView {
	v.Last = pointed(v.Last)
	v.Trace = slices.Clone(v.Trace)
	return v
}

func (v ChannelView) clone() ChannelView {
	v.Info = cloneChannel(v.Info)
	v.Last = pointed(v.Last)
	v.Outcomes = maps.Clone(v.Outcomes)
	return v
}

func (v InstrumentView) clone() InstrumentView {
	v.Info.Acts = slices.Clone(v.Info.Acts)
	v.Info.Channels = each(v.Info.Channels, cloneChannel)
	return v
}

func cloneRail(r capture.Rail) capture.Rail {
	r.Feeds = slices.Clone(r.Feeds)
	return r
}

func cloneChannel(c capture.ChannelInfo) capture.ChannelInfo {
	c.Accuracy = slices.Clone(c.Accuracy)
	return c
}

func cloneTransition(t capture.Transition) capture.Transition {
	t.Evidence = slices.Clone(t.Evidence)
	return t
}
