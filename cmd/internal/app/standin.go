package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/rules"
	"steadyrail/rules/standin"
	"steadyrail/rules/waveform"
)

// StandIns are the judgements on candidates of a file, and what was taken for
// them from a job's record.
type StandIns struct {
	Judgements []standin.Judgement
	Taken      []rules.TakenNeed // nothing without a job
}

// JudgeStandIns judges candidates. A source that is not nil is a job whose
// measured figures take the place of stated ones; waves are captures of an
// oscilloscope, of one candidate: what one does says nothing of another. What
// was asked wrongly is a [*dashboards.Error] of the kind invalid; any other error is of reading the record.
func JudgeStandIns(ctx context.Context, need standin.Need, list []standin.Candidate, source rules.Source, waves []dashboards.WaveFile, zone *time.Location) (out StandIns, err error) {
	if source != nil {
		need, out.Taken, err = rules.NeedFromJob(ctx, source, need, zone)
		switch {
		case errors.Is(err, rules.ErrNoRail):
			return out, &dashboards.Error{Kind: dashboards.Invalid, Err: err, Hint: "name the rail as the job's sheet does"}
		case err != nil:
			return out, err
		}
	}
	var seen standin.Scope
	for _, w := range waves {
		if err := addWave(ctx, &seen, need.Rail, w); err != nil {
			return out, &dashboards.Error{Kind: dashboards.Invalid, Detail: w.Name, Err: err, Hint: "a capture is CSV with a column of seconds and one of volts; columns are named with their units"}
		}
	}
	if len(waves) > 0 && len(list) > 1 {
		return out, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("a capture shows one converter at work, and %d candidates are asked about", len(list)), Hint: "name the one that it was taken of: behind the file, or on the page by leaving it alone in the text"}
	}
	for _, c := range list {
		out.Judgements = append(out.Judgements, standin.Judge(need, c, seen))
	}
	return out, nil
}

// addWave reads a capture and works out what it shows.
func addWave(ctx context.Context, seen *standin.Scope, rail capture.Rail, w dashboards.WaveFile) error {
	sep, err := table.ParseSeparator(w.Parted)
	if err != nil {
		return fmt.Errorf("--separator: %w", err)
	}
	read, err := table.ReadWave(ctx, w.Data, w.Column, table.Options{Separator: sep})
	if err != nil {
		return err
	}
	if read.Unit != capture.Volt {
		return fmt.Errorf("%s is in %s: a capture of a rail is in volts", read.Column, read.Unit.ASCII())
	}
	return seen.Add(rail, w.Shows, w.Name+", "+read.Column, waveform.Trace{Times: read.Times, Values: read.Values, Resolution: read.Resolution})
}

// StandInActs are the acts that keep judgements in a job's record.
func StandInActs(list []standin.Judgement) (out []capture.Act, err error) {
	for _, j := range list {
		kept := capture.StandInJudged{Candidate: j.Candidate, Rail: j.Rail, Word: string(j.Word), Say: j.Say, Point: j.Point}
		for _, c := range j.Checks {
			kept.Checks = append(kept.Checks, capture.StandInCheck{Name: c.Name, Word: string(c.Word), Say: c.Say, Source: c.Source})
		}
		if j.Estimate != nil {
			if kept.Estimate, err = json.Marshal(j.Estimate); err != nil {
				return nil, err
			}
		}
		act, err := kept.Act()
		if err != nil {
			return nil, err
		}
		out = append(out, act)
	}
	return out, nil
}

// judgeStandIns answers the API and the page.
func (a *App) judgeStandIns(ctx context.Context, ask dashboards.StandInAsk) (out dashboards.StandInsJudged, err error) {
	file, problems := configs.ParseStandIn("text", ask.Text)
	if len(problems) > 0 {
		var lines strings.Builder
		configs.Explain(&lines, problems)
		return out, errors.New(strings.TrimSpace(lines.String()))
	}
	if !ask.FromJob {
		judged, err := JudgeStandIns(ctx, file.Need, file.Candidates, nil, ask.Waves, time.Local)
		return standInsShape(judged), err
	}
	err = a.read(ctx, ask.Job, func(f *store.Job, _ *job.Book) error {
		judged, err := JudgeStandIns(ctx, file.Need, file.Candidates, f, ask.Waves, time.Local)
		if err != nil {
			return err
		}
		out = standInsShape(judged)
		if ask.Keep {
			out.Kept, err = a.keepStandIns(ctx, f.ID(), judged.Judgements)
		}
		return err
	})
	return out, err
}

// keepStandIns records them.
func (a *App) keepStandIns(ctx context.Context, id string, list []standin.Judgement) (said []string, err error) {
	acts, err := StandInActs(list)
	if err != nil {
		return nil, err
	}
	for _, act := range acts {
		res, err := a.Act(ctx, id, act)
		if err != nil {
			return said, err
		}
		said = append(said, res.Say)
	}
	return said, nil
}

func standInsShape(s StandIns) (out dashboards.StandInsJudged) {
	out.Judgements = []web.StandIn{}
	for _, j := range s.Judgements {
		out.Judgements = append(out.Judgements, standInShape(j))
	}
	for _, t := range s.Taken {
		out.Taken = append(out.Taken, web.StandInTaken{Key: t.Key, Value: t.From.Value, U: t.From.U, Source: t.From.Source, Say: t.Say})
	}
	return out
}

func standInShape(j standin.Judgement) web.StandIn {
	out := web.StandIn{Candidate: j.Candidate, Rail: j.Rail, Word: string(j.Word), Say: j.Say, Checks: []web.StandInCheck{}, Point: j.Point}
	if j.Estimate != nil {
		out.Estimate = j.Estimate
	}
	for _, c := range j.Checks {
		out.Checks = append(out.Checks, web.StandInCheck{Name: c.Name, Word: string(c.Word), Value: c.Value, Limit: c.Limit, Unit: c.Unit, Say: c.Say, Basis: c.Basis, Source: c.Source})
	}
	return out
}

// Limited answers what a limiter in series lets through.
func Limited(q capture.LimiterQuestion) (web.Limited, error) {
	l := standin.Limiter{Source: q.Source, Ohm: q.Ohm, LampVolts: q.LampVolts, LampWatts: q.LampWatts, Power: q.Power, Peak: q.Start, Lowest: q.Lowest}
	if err := l.Check(); err != nil {
		return web.Limited{}, err
	}
	r := l.Judge()
	out := web.Limited{
		Word: string(r.Word), Say: r.Say, MostOhm: r.MostOhm, MostWatts: r.MostWatts, Cold: r.Cold, Hot: r.Hot, Points: []web.LimiterPoint{},
		Rows: r.Rows(), Short: r.Short, ShortAmps: r.ShortAmps, Basis: r.Basis, Cautions: r.Cautions,
	}
	for _, p := range r.Points {
		out.Points = append(out.Points, web.LimiterPoint(p))
	}
	return out, nil
}

// KeptStandIns are the judgements that a job's record keeps, with what its soak
// made of each estimate. It reads the record as a report does.
func KeptStandIns(ctx context.Context, f *store.Job, b *job.Book) ([]capture.StandInJudged, error) {
	d, err := Dossier(ctx, f, b)
	return d.StandIns, err
}

func (a *App) keptStandIns(ctx context.Context, id string) (out []capture.StandInJudged, err error) {
	err = a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		out, err = KeptStandIns(ctx, f, b)
		return err
	})
	return out, err
}
