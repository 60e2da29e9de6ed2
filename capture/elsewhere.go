package capture

import (
	"fmt"
	"strconv"
)

// ActElsewhere is the act of an output whose protection was set in another open
// job. Subject is the output, or the instrument; Text what was set, as
// [ActLimits] has it; By that job. What this job programmed is in doubt until it
// reads back.
const ActElsewhere Verb = "set elsewhere"

// ByInject is who does what ends an injection: [Act.By] of its acts.
const ByInject = "inject"

// ElsewhereBy names another job as the one who acted: "job AB-0147".
func ElsewhereBy(job string) string { return fmt.Sprintf("job %s", job) }

// Differs reports whether limits that were set mean another protection than this
// one. What they do not name stays as it is.
func (p Protection) Differs(limits string) bool {
	return differ(LimitIn(limits, OverVoltage), p.Voltage) || differ(LimitIn(limits, OverCurrent), p.Current)
}

func differ(set, had string) bool {
	if set == "" || set == had {
		return false
	}
	a, bad := strconv.ParseFloat(set, 64)
	b, worse := strconv.ParseFloat(had, 64)
	return bad != nil || worse != nil || a != b
}

// elsewhere puts a protection in doubt that somebody else set.
func (p *Protections) elsewhere(at Instant, a Act) {
	p.each(a.Subject, func(q *Protection) { q.Doubt, q.Elsewhere, q.Since = true, a.By, at })
}
