package cli

import (
	"context"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/rules/standin"
)

// kept tells the judgements that a job keeps, and what its soak made of each
// estimate. It ends with 1 when a soak speaks against one.
func (ask standInAsk) kept(ctx context.Context, s streams, asJSON bool) error {
	var list []capture.StandInJudged
	err := readJob(ctx, s, ask.dir, ask.job, func(f *store.Job, b *job.Book) (err error) {
		list, err = app.KeptStandIns(ctx, f, b)
		return err
	})
	if err != nil {
		return err
	}
	bad := false
	for _, j := range list {
		bad = bad || j.Word == string(standin.Unfit) || j.Soaked != nil && j.Soaked.Word == string(standin.Unfit)
	}
	if asJSON {
		err = writeJSON(s.out, append([]capture.StandInJudged{}, list...))
	} else {
		showKept(s, list)
	}
	if err == nil && bad {
		return &exitError{code: exitJudgedBad}
	}
	return err
}

func showKept(s streams, list []capture.StandInJudged) {
	if len(list) == 0 {
		fmt.Fprintln(s.out, "No stand-in was judged and kept: steadyrail standin FILE --job JOB --keep")
	}
	for _, j := range list {
		fmt.Fprintln(s.out, fitted(s.out, j.Say))
		switch {
		case j.Soaked != nil:
			fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %-12s  %-25s  %s", j.Soaked.Word, "heat, after the soak", j.Soaked.Say)))
		case j.Point == "":
			fmt.Fprintln(s.out, fitted(s.out, "  not checked   heat, after the soak       no point was named at which its temperature is measured"))
		}
	}
}
