package capture

// AlarmCourse is an alarm that is not over yet, by the steps its figures are of:
// how it was raised, its worst, and how its condition went last. What its rail read
// since belongs to none of them.
type AlarmCourse struct {
	Alarm  string      `json:"alarm"`
	Came   int         `json:"came"`            // how often its condition came
	Raised Transition  `json:"raised"`          // the step that raised it
	Worst  *Transition `json:"worst,omitempty"` // the step with the worst figure, where neither of the others has it
	Ended  *Transition `json:"ended,omitempty"` // the step by which its condition went last; nil: it is there
}

// Take adds the next step of the alarm.
func (c *AlarmCourse) Take(t Transition) {
	came, went := t.To.IsActive() && !t.From.IsActive(), !t.To.IsActive() && t.From.IsActive()
	if c.Alarm == "" {
		*c = AlarmCourse{Alarm: t.Alarm, Raised: t}
	}
	switch was := c.Ended; {
	case came:
		c.Came++
		c.Ended = nil
		c.keep(was)
		c.keep(&t)
	case went:
		c.Ended = &t
		if c.Worst != nil && !c.worse(*c.Worst, t) {
			c.Worst = nil // it ended with its worst
		}
	case t.From.IsActive():
		c.keep(&t) // told anew
	}
}

func (c *AlarmCourse) keep(t *Transition) {
	if t != nil && c.worse(*t, c.Raised) && (c.Worst == nil || c.worse(*t, *c.Worst)) {
		step := *t
		c.Worst = &step
	}
}

// worse reports whether the figure of a step lies further on the side of the limit on
// which the alarm was raised than another's. Figures with no limit, with another one
// or in another unit are not compared.
func (c *AlarmCourse) worse(t, than Transition) bool {
	r := c.Raised
	if r.Limit == 0 || t.Limit != r.Limit || than.Limit != r.Limit || t.Unit != r.Unit || than.Unit != r.Unit {
		return false
	}
	if r.Value < r.Limit {
		return t.Value < than.Value
	}
	return t.Value > than.Value
}
