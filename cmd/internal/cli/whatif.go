package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/configs"
	"steadyrail/rules"
)

// whatIf is what the flags of replay say about other rules.
type whatIf struct {
	file   string
	only   bool
	asJSON bool
}

const replayLong = `Judge a stored job again and compare with the alarms on record: they must be the same.

With --rules FILE it is judged by the rules and formulas of FILE instead, and told which
alarms would have come and which would not. FILE is YAML with the keys rules and formulas,
as in a configuration; a whole configuration is taken too, its other keys are passed over.
They hold from the job's beginning, in place of the rules that were written for it then.
The rules that follow from the rails stay, unless FILE has one of the same name; --only
judges by FILE alone. Two alarms count as the same one when they were there at the same
time on one rail, of one rule or else of one kind and channel. Nothing is written into the job, and
that the alarms differ is no failure.`

// run judges a job by the rules of a file and tells what differs.
func (w whatIf) run(ctx context.Context, s streams, f *store.Job, b *job.Book) error {
	file, problems := configs.LoadRules(w.file)
	if len(problems) > 0 {
		return w.refuse(s, problems)
	}
	what := rules.WhatIf{Rules: file.Rules, Formulas: file.Formulas, Only: w.only}
	elsewhere, problems := file.Check(b.Sheet(), b.Roster(), what.Set(b.Rules()).Formulas)
	if len(problems) > 0 {
		return w.refuse(s, problems)
	}
	upto, err := f.Upto(ctx)
	if err != nil {
		return err
	}
	c, err := rules.Compare(ctx, f, upto, what)
	if err != nil {
		return err
	}
	for _, name := range elsewhere {
		s.say("passed over: rule %s, whose rail is not on this job's sheet", name)
	}
	if w.asJSON {
		return writeJSON(s.out, c)
	}
	w.tell(s, c)
	return nil
}

func (w whatIf) refuse(s streams, problems []configs.Problem) error {
	configs.Explain(s.err, problems)
	return &exitError{exitUse, nil}
}

// tell says in plain words what differs.
func (w whatIf) tell(s streams, c rules.Comparison) {
	fmt.Fprintf(s.out, "%s, opened %s, judged by %s%s\n", c.Job, c.Opened.Time().Local().Format("2006-01-02 15:04:05"), w.file, w.beside())
	fmt.Fprintf(s.out, "judged then by rules version %s, now by %s\n", strings.Join(c.Engines, ", then "), c.Engine)
	counts := tellAlarms(s, c)
	fmt.Fprintf(s.out, "\n%d then, %d now: %d came both times, %d would not have come, %d would have come\n",
		counts[0]+counts[1], counts[0]+counts[2], counts[0], counts[1], counts[2])
	if c.Then != nil && c.Now != nil {
		fmt.Fprintf(s.out, "soak then: %s; now: %s\n", soakWord(*c.Then), soakWord(*c.Now))
	}
}

func (w whatIf) beside() string {
	if w.only {
		return " alone"
	}
	return " and what follows from the rails"
}

// headings tell the three kinds of pair.
var headings = [...]string{"Came then, and now:", "Would not have come:", "Would have come:"}

func sortOf(p rules.Pair) int {
	switch {
	case p.Now == nil:
		return 1
	case p.Then == nil:
		return 2
	}
	return 0
}

// tellAlarms lists the alarms under their headings and counts them.
func tellAlarms(s streams, c rules.Comparison) (counts [len(headings)]int) {
	for i, heading := range headings {
		list := slices.DeleteFunc(slices.Clone(c.Alarms), func(p rules.Pair) bool { return sortOf(p) != i })
		if counts[i] = len(list); len(list) == 0 {
			continue
		}
		fmt.Fprintf(s.out, "\n%s\n", heading)
		out := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(out, "  then\tnow\tfor\talarm")
		for _, p := range list {
			fmt.Fprintln(out, "  "+pairLine(p, c))
		}
		_ = out.Flush()
	}
	return counts
}

// pairLine is a line of the table: times since the job's opening, and what was
// said, by the new rules where they spoke.
func pairLine(p rules.Pair, c rules.Comparison) string {
	o := p.Now
	if o == nil {
		o = p.Then
	}
	say := fmt.Sprintf("%s, %s: %s", o.Rule, o.Severity, o.Say)
	if p.Then != nil && p.Now != nil && p.Then.Rule != p.Now.Rule {
		say += " (then: " + p.Then.Rule + ")"
	}
	if o.Muted != "" {
		say += " (not told: " + o.Muted + ")"
	}
	return fmt.Sprintf("%s\t%s\t%s\t%s", since(p.Then, c), since(p.Now, c), lasted(o, c), say)
}

func since(o *rules.Occurrence, c rules.Comparison) string {
	if o == nil {
		return "-"
	}
	return clockSpan(o.Came.Sub(c.Opened))
}

func lasted(o *rules.Occurrence, c rules.Comparison) string {
	if o.Went == 0 {
		return "to the end, " + clockSpan(c.End.Sub(o.Came))
	}
	return clockSpan(o.Went.Sub(o.Came))
}

// clockSpan prints a length as hours, minutes and seconds, to the tenth.
func clockSpan(d time.Duration) string {
	d = max(0, d).Round(100 * time.Millisecond)
	return fmt.Sprintf("%d:%02d:%04.1f", int(d.Hours()), int(d.Minutes())%60, (d % time.Minute).Seconds())
}

func soakWord(e capture.SoakEvidence) string {
	word := "not passed"
	if e.Passed {
		word = "passed"
	}
	return fmt.Sprintf("%s (failures: %d, watched for %s of %s)", word, e.Failures, clockSpan(e.Watched), clockSpan(e.To.Sub(e.From)))
}
