package web

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/capture/walk"
	"steadyrail/dashboards/chart"
)

// traceSpan is what the small line of a lane covers.
const traceSpan = 10 * time.Minute

// Model is what a page is drawn from. The zero value draws the page of a bench
// without a job, locked.
type Model struct {
	Snapshot    live.Snapshot
	Job         string // job shown; "" the one opened last
	Rail        string // rail of the Rail page
	Span        string // of the history: one of [Spans]
	History     []capture.Bucket
	From, To    capture.Instant       // of the history
	Lows        []chart.Low           // low leads on the board, of the Bench page
	Unlocked    bool                  // acts are possible: the session has shown the token
	Nonce       string                // what its forms bring along
	Path        string                // address of the page, for forms to come back to
	Simulated   bool                  // there are hands to move the bench with, on page demo
	HandsAnswer *HandsAnswer          // of the page demo
	Command     string                // how the program is called, for the first page
	Zone        *time.Location        // of all times; nil: UTC
	Plans       bool                  // soaks can be planned
	StandIn     *StandInAnswer        // on the page of stand-ins; nil: nothing was asked
	Trimming    *capture.Trimming     // on the Trim page; nil: there is no such rail
	Planned     *Planned              // on the Job page; nil: nothing was asked
	KindInfo    []capture.KindInfo    // of the page of rules
	Files       bool                  // pictures and sounds can be kept
	Handover    *Handover             // on the Job page: a page for a phone is open
	Return      *capture.Return       // on the Job page: how the set left the job before; nil: it was not here
	Isolating   *Isolating            // on the page of isolation; nil elsewhere
	Limiter     *LimiterAnswer        // on the page of stand-ins
	Soaking     *capture.RegimenState // on the Soak page; nil: there is none
	Decimal     capture.DecimalMark   // of figures that its scripts write
	Cold        *Cold                 // on the page of cold checks; nil: nothing is known
	Aged        Aged                  // cold checks that count no more; zero: they do, or there are none
	ColdAsked   *ColdAnswer           // of its card; nil: nothing was asked
	Kept        *StandInsKept         // on the page of stand-ins; nil: not asked for
	Health      *BenchHealth          // on the page of health; nil elsewhere
	Reports     []ReportOf            // every job of the workspace; on the page of reports
	Walk        walk.View             // of the page Walk; zero: nobody walks
}

// view is a model with what the templates need, worked out once.
type view struct {
	Model
	Page string
	snap live.Snapshot
	zone *time.Location

	HasJob bool
	Job    live.JobView // shadows the identity in Model
	Lanes  []lane
	Alarms []alarm // open ones, worst first
	Past   []alarm
	Shout  *alarm // the one that fills the page; nil when all were heard
	Others int    // further ones that were not heard
	Ring   string // what the page sounds like: "urgent", "back" or ""
	Say    string // the sentence of the page
	Proof  string // what stands under it
	Now    string
	Oldest string
	Rail   *railPage
	Trim   *trimPage
	beside []*view // of the other open jobs; nil before it was asked for
	shown  string  // job of the page that this view stands on; "" is its own
}

func newView(page string, m Model) *view {
	v := &view{Model: m, Page: page, snap: m.Snapshot, zone: m.Zone}
	if v.zone == nil {
		v.zone = time.UTC
	}
	v.Now = v.clock(v.snap.Now)
	v.Job, v.HasJob = v.snap.Job(m.Job)
	if v.HasJob {
		for _, rv := range v.Job.Rails {
			v.Lanes = append(v.Lanes, v.lane(rv))
		}
		v.Oldest = v.oldest()
		v.alarms()
	}
	switch page {
	case "rail":
		v.railPage()
	case "alarms":
		v.Say, v.Proof = v.alarmSentence()
	case "rules":
		v.Say, v.Proof = v.rulesSentence()
	case "health":
		v.Say, v.Proof = v.healthSentence()
	case "reports":
		v.Say, v.Proof = v.reportsSentence()
	case "job":
		v.Say, v.Proof = v.jobSentence()
	case "discharge":
		v.Say, v.Proof = v.coldSentence()
	case "walk":
		v.Say, v.Proof = v.walkSentence()
	case "standin":
		v.Say, v.Proof = v.standInSentence()
	case "trim":
		v.trimPage()
	case "isolate":
		v.Say, v.Proof = v.isolateSentence()
	case "soak":
		v.soakPage()
	case "demo":
		v.Say, v.Proof = "Hands on the simulated bench", "Board, meters and time are a model; ports, drivers and record are real."
	default:
		v.Say, v.Proof = v.benchSentence()
	}
	return v
}

// Title repeats the sentence, and says ALARM before anything else.
func (v *view) Title() string {
	parts := []string{v.Say}
	if l := v.Loud(); l != nil {
		parts[0] = "ALARM " + l.Shout.Headline
	}
	if v.HasJob {
		parts = append(parts, v.Job.Sheet.Job)
	}
	return strings.ReplaceAll(strings.Join(append(parts, "steadyrail"), " · "), nbsp, " ")
}

// Screen is what the page is called.
func (v *view) Screen() screen { return screens[v.Page] }

// Dense tells the templates to draw more than four rails closer.
func (v *view) Dense() bool { return len(v.Lanes) > 4 }

// oldest is the age of the oldest reading on show.
func (v *view) oldest() string {
	var worst time.Duration = -1
	for _, l := range v.Lanes {
		if l.Number != nil {
			worst = max(worst, v.snap.Age(l.last))
		}
	}
	if worst < 0 {
		return "no reading now"
	}
	return "oldest reading " + ageText(worst)
}

func spanShort(d time.Duration) string {
	if d < time.Second {
		return fmt.Sprintf("%d"+nbsp+"ms", d.Milliseconds())
	}
	return fmt.Sprintf("%.3g"+nbsp+"s", d.Seconds())
}

// Speed says that the bench runs faster than the wall.
func (v *view) Speed() string {
	if !v.snap.Simulated {
		return ""
	}
	if v.snap.Speed > 1 {
		return fmt.Sprintf("simulated, %.0f ×", v.snap.Speed)
	}
	return "simulated"
}
