// Package report writes the report of a job: one HTML file that needs nothing
// else, no script, no font, no network, and prints on A4.
//
// It says only what the dossier holds. The headline follows from the evidence
// and claims a repair only where a rail that failed as found passed after; it
// never calls a set fit that has an alarm standing or no passed soak. What was
// not checked is printed as not checked, a simulated bench is said loudly, and
// every figure has the digits that its meter gave, no more.
//
// [HTML] holds no state and is safe for concurrent use.
package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"time"

	"steadyrail/capture"
)

// Options are what a report needs besides the evidence. The zero value writes
// in UTC and leaves out what is not known.
type Options struct {
	Zone     *time.Location  // of all times in the report; nil: UTC
	Version  string          // of the program that writes
	Written  capture.Instant // when it is written; 0: not said
	Title    string          // "Repair report" when empty
	Workshop string          // letterhead; may be empty
	File     string          // name of the job's file, for the verify command
	// Picture returns a kept picture as a small JPEG, by its hash; nil: the report has none.
	Picture func(hash string) ([]byte, error)
	Return  *capture.Return     // how the set left the job before; nil: it was not here
	Decimal capture.DecimalMark // of the figures in it
}

//go:embed page.html
var pageText string

//go:embed kept.html
var keptText string

//go:embed report.css
var styleText string

//go:embed marks.svg
var marksText string

//go:embed logo.svg
var logoText string

var pageTemplate = template.Must(template.New("page").Parse(pageText + judgedText + keptText + standInText + strings.TrimSpace(trendText)))

// HTML writes the report of a job to w. Nothing is written when it cannot be
// made; otherwise the error is the writer's.
func HTML(w io.Writer, d capture.Dossier, o Options) error {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Title == "" {
		o.Title = "Repair report"
	}
	p, err := newPage(d, o)
	if err != nil {
		return fmt.Errorf("report of job %s: %w", d.Sheet.Job, err)
	}
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, p); err != nil {
		return fmt.Errorf("report of job %s: %w", d.Sheet.Job, err)
	}
	_, err = io.WriteString(w, capture.NewTurner(o.Decimal, d.Sheet.RailNames()).HTML(b.String()))
	return err
}

// page is everything on the report, in words.
type page struct {
	Style, Marks, Logo any // trusted: from the files beside this one

	Kind, Job, Subject, When, Workshop string
	Simulated                          bool
	Headline                           string
	Broken                             string
	Lead                               []string
	Meta                               []pair
	Rails                              []railRow
	RailNotes                          []string
	Found, StandIn                     []entryRow
	StandIns                           []standInView
	Verdicts                           []verdictRow
	Soak                               *soakView
	Charts                             []figureView
	Stats                              []statRow
	Coverage                           []coverageView
	CoverageNote                       string
	Alarms                             []alarmView
	Untold                             []followed
	Trips                              *tripView
	Instruments                        []instrumentRow
	InstrumentNotes                    []string
	Judged                             []judgedRow
	Trends                             []trendRow
	Accuracies                         []accuracyGroup
	AccuracySource                     string
	NotChecked                         []string
	Cautions                           []caution
	Seal                               seal
	Stages                             []pair
	Log                                []entryRow
	LogMore                            int
	Rules                              []ruleRow
	Engine                             string
	Written, Version, Zone             string
	Foot                               string
	Returned                           *returnView
	Indications                        []entryRow
	Fitted                             []fittedRow
	Pictures                           []pictureView
	PicturesMore                       int
}

type pair struct{ Name, Value string }

type caution struct{ Head, Text string }

// teller turns the dossier into words; it knows the zone and the options.
type teller struct {
	d capture.Dossier
	o Options
}

func newPage(d capture.Dossier, o Options) (page, error) {
	if d.Broken != "" && d.Soak != nil { // what was changed proves nothing
		s := *d.Soak
		s.Passed = false
		d.Soak = &s
	}
	t := teller{d, o}
	p := page{
		Style: template.CSS(styleText), Marks: template.HTML(marksText), Logo: template.HTML(logoText),
		Kind: o.Title, Job: d.Sheet.Job, Subject: t.subject(), When: t.when(), Workshop: o.Workshop,
		Simulated: d.Sheet.Simulated, Broken: sentence(d.Broken), Headline: lower(t.headline()), Lead: t.lead(), Meta: t.meta(),
		Rails: t.rails(), RailNotes: t.railNotes(), Verdicts: t.verdicts(), Soak: t.soak(), Stats: t.stats(), Coverage: t.coverage(),
		Instruments: t.instruments(), InstrumentNotes: t.instrumentNotes(), Accuracies: t.accuracies(), Judged: t.judged(), Trends: t.trends(),
		NotChecked: t.notChecked(), Cautions: t.cautions(), Seal: t.seal(), Stages: t.stages(),
		Rules: t.rules(), Engine: d.Rules.Engine, Written: t.written(), Version: o.Version, Zone: t.zone(), Foot: t.foot(),
	}
	p.CoverageNote = coverageNote(p.Coverage)
	p.AccuracySource = oneSource(p.Accuracies)
	p.Found, p.StandIn = t.work()
	p.Log, p.LogMore = t.log()
	p.Trips, p.StandIns = t.trips(), t.standIns()
	p.Returned, p.Indications, p.Fitted = t.returned(), t.indications(), t.fitted()
	p.Pictures, p.PicturesMore = t.pictures()
	var err error
	if p.Charts, err = t.charts(); err != nil {
		return page{}, err
	}
	p.Alarms, p.Untold, err = t.alarms()
	return p, err
}
