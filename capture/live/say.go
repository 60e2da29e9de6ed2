package live

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// sayAct puts an act into one sentence.
func sayAct(a capture.Act) string {
	with := func(head, tail string) string {
		if tail == "" {
			return head + "."
		}
		return head + ": " + tail + "."
	}
	subject := a.Subject
	switch a.Verb {
	case capture.ActOpen:
		return "Job opened."
	case capture.ActClose:
		return with("Job closed", a.Text)
	case capture.ActNote:
		return a.Text
	case capture.ActStage:
		return with("Stage: "+string(a.Stage), a.Text)
	case capture.ActSoak:
		return saySoak(a)
	case capture.ActNull:
		return "Leads nulled at " + capture.Ohm.Text(a.Value, 0.001) + "."
	case capture.ActHeard:
		return "Heard: " + subject + "."
	case capture.ActReset:
		return "Latch reset: " + subject + "."
	case capture.ActMute:
		return fmt.Sprintf("Muted for %s: %s.", seconds(a.Value), subject)
	case capture.ActOutput:
		return fmt.Sprintf("Output of %s %s.", subject, a.Text)
	case capture.ActLimits:
		return with("Limits of "+subject, a.Text)
	case capture.ActTurn:
		return "Trimmer turned by " + capture.Figure(a.Value, 0.01) + " turns."
	case capture.ActLift:
		return with("Lifted "+subject, a.Text)
	case capture.ActPutBack:
		return with("Put back "+subject, a.Text)
	case capture.ActFinding:
		return with("Finding on "+subject, a.Text)
	case capture.ActLinkLost:
		return with("Link to "+subject+" lost", a.Text)
	case capture.ActLinkBack:
		return strings.TrimSpace("Link to "+subject+" back "+a.Text) + "."
	}
	return with(strings.TrimSpace(string(a.Verb)+" "+subject), a.Text)
}

func saySoak(a capture.Act) string {
	switch {
	case a.Text == "start" && a.Value > 0:
		return "Soak started, planned for " + seconds(a.Value) + "."
	case a.Text == "start":
		return "Soak started."
	case a.Text == "stop":
		return "Soak stopped."
	}
	return "Soak: " + a.Text + "."
}

func sayTyped(r capture.Reading, p capture.Placement) string {
	how := "Typed"
	if r.Flags.Has(capture.ByEye) {
		how = "Read by eye"
	}
	value := "no value"
	if r.HasValue() {
		value = r.Quantity.Unit().Text(r.Value, r.Resolution)
	}
	where := p.Rail
	if where == "" {
		where = p.Point
	}
	if where != "" {
		where = " on " + where
	}
	return how + ": " + value + where + "."
}

func sayGap(g capture.Gap) string {
	s := "The record has a gap"
	if g.To > g.From && g.From != 0 {
		s += " of " + seconds(g.To.Sub(g.From).Seconds())
	}
	if g.Reason != "" {
		s += ": " + g.Reason
	}
	return s + "."
}

// seconds prints a length of time for people: "45 s", "8 min", "6 h 12 min".
func seconds(s float64) string {
	d := time.Duration(s * float64(time.Second))
	h, m := int64(d/time.Hour), int64(d%time.Hour/time.Minute)
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}
