package web

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// benchSentence is the news: what is wrong first, then what nobody can say,
// then what nobody sees, and only then that all is inside.
func (v *view) benchSentence() (say, proof string) {
	if !v.HasJob {
		return "No job is open", v.instrumentsSentence()
	}
	if len(v.Lanes) == 0 {
		return "No rails on the sheet", "Open the job with its rails."
	}
	by := map[tone][]string{}
	for _, l := range v.Lanes {
		by[l.Tone] = append(by[l.Tone], together(l.Name))
	}
	return railSentence(by, len(v.Lanes), v.Lanes), v.stageSentence()
}

func railSentence(by map[tone][]string, all int, lanes []lane) string {
	var bad []string
	for _, l := range lanes {
		if l.Tone.Bad() {
			bad = append(bad, together(l.Name))
		}
	}
	switch {
	case len(bad) == 1:
		for _, l := range lanes {
			if l.Tone.Bad() {
				word, _, _ := strings.Cut(strings.ToLower(l.Word), " by")
				return together(l.Name) + " " + word
			}
		}
	case len(bad) > 1 && len(bad) <= 3:
		return capture.Listed(bad) + " outside"
	case len(bad) > 3:
		return capital(many(len(bad), "rail")) + " outside"
	case len(by[doubt]) > 0:
		return capture.Listed(by[doubt]) + ": cannot tell"
	case len(by[silent]) > 0:
		return "No reading on " + capture.Listed(by[silent])
	}
	in, seen := len(by[inside]), all-len(by[nowhere])
	for _, l := range lanes {
		if l.Tone == nowhere && l.Number != nil { // a resistance, no short
			return together(l.Name) + ": " + strings.ToLower(l.Word)
		}
	}
	switch {
	case seen == 0:
		return "No rail is being measured"
	case in == all && all == 1:
		return together(lanes[0].Name) + " inside"
	case in == all:
		return "All " + many(all, "rail") + " inside"
	case in == 1:
		return by[inside][0] + " inside"
	}
	return fmt.Sprintf("%s of %s inside", capital(count(in)), many(all, "rail"))
}

// stageSentence says where the job stands and whether an alarm is open.
func (v *view) stageSentence() string {
	var s []string
	if soak := v.Job.Soak; soak != nil && v.Job.Stage == capture.Soak {
		s = append(s, v.soakSentence(*soak))
	} else {
		s = append(s, capital(string(v.Job.Stage))+", for "+spanText(v.snap.Now.Sub(v.Job.StageSince))+".")
	}
	unwatched := v.unwatched()
	switch n := len(v.Alarms); {
	case n == 0 && len(v.Past) == 0 && unwatched != "":
		// Nobody looked: that there was no alarm says nothing.
	case n == 0 && len(v.Past) == 0:
		s = append(s, "No alarm so far.")
	case n == 0:
		s = append(s, "No alarm open, "+count(len(v.Past))+" ended.")
	case n == 1:
		s = append(s, "One alarm open: "+v.Alarms[0].Headline+", "+v.Alarms[0].State+".")
	default:
		s = append(s, capital(count(n))+" alarms open.")
	}
	if unwatched != "" {
		s = append(s, unwatched)
	}
	return strings.Join(s, " ")
}

// unwatched says that a clipped probe is read but, because of the stage, not
// watched; empty when it is, or nothing is clipped.
func (v *view) unwatched() string {
	if v.Job.Stage == "" || v.Job.Stage.Live() || !slices.ContainsFunc(v.Job.Rails, func(rv live.RailView) bool {
		return rv.Live && rv.Placement.Hold == capture.Clipped
	}) {
		return ""
	}
	what := "Nothing is"
	if v.shortsOnly() {
		what = "Only shorts are"
	}
	return what + " watched in " + string(v.Job.Stage) + ": rules about time need a live stage."
}

// shortsOnly reports whether this is a stage in which the resistance to the
// return is judged, and nothing else.
func (v *view) shortsOnly() bool {
	return v.Job.Stage == capture.ColdChecks || v.Job.Stage == capture.Isolate
}

// NoAlarms stands large under the lanes when no alarm is open.
func (v *view) NoAlarms() string {
	switch {
	case v.unwatched() == "":
		return "None"
	case v.shortsOnly():
		return "Shorts only"
	}
	return "Not watched"
}

func (v *view) soakSentence(s live.SoakView) string {
	end := v.snap.Now
	if s.To != 0 {
		end = s.To
	}
	words := "Soak, " + spanText(end.Sub(s.From))
	if s.Planned > 0 {
		words += " of " + spanText(time.Duration(s.Planned*float64(time.Second)))
	}
	if s.To != 0 {
		words += ", stopped"
	}
	return words + "."
}

func (v *view) instrumentsSentence() string {
	up := 0
	for _, in := range v.snap.Instruments {
		if in.Up {
			up++
		}
	}
	switch n := len(v.snap.Instruments); {
	case n == 0:
		return "No instrument is configured."
	case up == n:
		return capital(many(n, "instrument")) + " ready."
	default:
		return fmt.Sprintf("%s of %s ready.", capital(count(up)), many(n, "instrument"))
	}
}
