package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/rules/diagnose"
)

func boardsCommand(s streams) *cobra.Command {
	c := &cobra.Command{Use: "boards", Short: "Keep, check and compare what is known of kinds of board", Args: cobra.NoArgs,
		Long: `Keep, check and compare what is known of kinds of board.

    steadyrail boards check supply.yaml        # loops, orphans, with their line
    steadyrail boards keep supply.yaml         # into the workspace
    steadyrail boards list
    steadyrail boards show "Alderbrook 88 supply board"
    steadyrail boards save AB-0147 supply.yaml # the job's, as its rails read
    steadyrail boards good AB-0101 AB-0102 AB-0103

A sheet is YAML to share; configs/board.yaml is a complete one to copy.
steadyrail job open --board NAME takes rails and sheet from what is kept here.`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	dir := workspaceFlag(c)
	c.AddCommand(boardsList(s, dir), boardsShow(s, dir), boardsCheck(s), boardsKeep(s, dir), boardsSave(s, dir), boardsGood(s, dir))
	return c
}

func boardsList(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "list", Short: "List the sheets of the workspace", Args: cobra.NoArgs}
	asJSON := jsonFlag(c)
	c.RunE = func(*cobra.Command, []string) error {
		list, err := app.KeptBoards(*dir)
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, map[string]any{"boards": list})
		}
		if len(list) == 0 {
			s.say("no sheet yet: steadyrail boards keep FILE.yaml")
		}
		w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
		for _, b := range list {
			if b.Wrong != "" {
				fmt.Fprintf(w, "%s\tcannot be read: %s\n", b.File, b.Wrong)
				continue
			}
			fmt.Fprintf(w, "%s\t%s\t%d rails, %d parts\n", b.File, b.Name, b.Rails, b.Parts)
		}
		return w.Flush()
	}
	return c
}

func boardsShow(s streams, dir *string) *cobra.Command {
	return &cobra.Command{Use: "show NAME|FILE.yaml", Short: "Show a sheet", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		text, err := sheetFor(s, *dir, args[0])
		if err != nil {
			return err
		}
		if text == "" {
			return usef("there is no board sheet %q: see steadyrail boards list", args[0])
		}
		_, err = io.WriteString(s.out, text)
		return err
	}}
}

func boardsCheck(s streams) *cobra.Command {
	return &cobra.Command{Use: "check FILE.yaml", Short: "Check a sheet: unknown rails, loops, what hangs in the air", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		b, err := boardFile(s, args[0])
		if err != nil {
			return err
		}
		fmt.Fprintf(s.out, "%s: %d rails, %d parts, %d connectors, %d points of traces, %d rails with what they read healthy; %d ways to fail are weighed.\n",
			args[0], len(b.Rails), b.Parts(), len(b.Connectors()), len(b.Points), len(b.Healthy), len(b.Faults()))
		return nil
	}}
}

func boardsKeep(s streams, dir *string) *cobra.Command {
	return &cobra.Command{Use: "keep FILE.yaml", Short: "Keep a sheet in the workspace, under the board's name", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		b, err := boardFile(s, args[0])
		if err != nil {
			return err
		}
		text, err := os.ReadFile(args[0])
		if err != nil {
			return err
		}
		return keepBoard(s, *dir, *b, text)
	}}
}

// keepBoard writes a sheet into the workspace. A board that is kept already is
// replaced; another board is not.
func keepBoard(s streams, dir string, b diagnose.Board, text []byte) error {
	name := fileName(b.Name)
	if name == "" {
		return usef("the sheet has no name that a file can have: write board: NAME")
	}
	if _, err := os.Stat(dir); err != nil {
		return usef("there is no workspace %s: name it with --workspace DIR", dir)
	}
	folder := filepath.Join(dir, app.BoardFolder)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("keep the sheet: %w", err)
	}
	path := filepath.Join(folder, name+".yaml")
	if old, problems := configs.LoadBoard(path); old != nil && len(problems) == 0 && old.Name != b.Name {
		return usef("%s is the sheet of %s: give this board another name", path, old.Name)
	}
	return writeFile(s, path, func(w io.Writer) error { _, err := w.Write(text); return err })
}

// fileName makes a board's name one of a file: letters and digits, and one dash
// for whatever is between them.
func fileName(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz0123456789", r) })
	return strings.Join(words, "-")
}

func boardsSave(s streams, dir *string) *cobra.Command {
	return &cobra.Command{Use: "save JOB [FILE.yaml]", Short: "Save a sheet from a job, with what its rails read healthy",
		Long: `Save a sheet from a job: its own sheet, or one with its rails alone to fill in, and what
the rails read cold with everything on the board. A rail that reads short is left out.
Without FILE it goes into the workspace; - is standard output.`,
		Args: cobra.RangeArgs(1, 2), RunE: func(cmd *cobra.Command, args []string) error {
			b, err := boardOfJob(cmd.Context(), s, *dir, args[0])
			if err != nil {
				return err
			}
			text := configs.WriteBoard(b)
			if _, problems := configs.ParseBoard("sheet", text); len(problems) > 0 {
				configs.Explain(s.err, problems)
				return usef("boards save: the rails of %s make no sheet", args[0])
			}
			if len(args) == 1 {
				return keepBoard(s, *dir, b, text)
			}
			return writeFile(s, args[1], func(w io.Writer) error { _, err := w.Write(text); return err })
		}}
}

// boardOfJob reads a job's sheet and adds what its rails read healthy.
func boardOfJob(ctx context.Context, s streams, dir, id string) (b diagnose.Board, err error) {
	trail, sheet, err := trailOf(ctx, s, dir, id)
	if err != nil {
		return b, err
	}
	b = bareBoard(sheet)
	if text := trail.Sheet(); text != "" {
		own, problems := configs.ParseBoard("sheet of "+id, []byte(text))
		if len(problems) > 0 {
			configs.Explain(s.err, problems)
			return b, &exitError{code: exitUse}
		}
		b = *own
	}
	for _, h := range trail.Rested() {
		r, on := b.Rail(h.Rail)
		switch {
		case !on:
		case h.Ohms < r.ShortBelow:
			s.say("%s reads short or was not read: left out", h.Rail)
		default:
			b.Healthy = slices.DeleteFunc(b.Healthy, func(o diagnose.Healthy) bool { return o.Rail == h.Rail })
			b.Healthy = append(b.Healthy, h)
		}
	}
	return b, nil
}

// bareBoard is a sheet with rails alone, each from a source of its own: what
// feeds what is to be filled in.
func bareBoard(sheet capture.Sheet) diagnose.Board {
	b := diagnose.Board{Name: sheet.Board, Rails: sheet.Rails}
	for _, r := range sheet.Rails {
		b.Sources = append(b.Sources, diagnose.Source{Name: "source of " + r.Name, Rail: r.Name})
	}
	return b
}

// trailOf folds a job's file.
func trailOf(ctx context.Context, s streams, dir, id string) (trail *diagnose.Trail, sheet capture.Sheet, err error) {
	trail = new(diagnose.Trail)
	err = readJob(ctx, s, dir, id, func(f *store.Job, b *job.Book) error {
		sheet = b.Sheet()
		return f.Records(ctx, 0, 0, func(rec capture.Record) error {
			trail.Consume(rec)
			return nil
		})
	})
	return trail, sheet, err
}

func boardsGood(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "good JOB...", Short: "Hold boards that are well together, and name the odd ones",
		Long: `Hold boards of one kind that are well against each other. For each rail and polarity the
interval is told in which 95 % of such boards lie, with 95 % confidence (ISO 16269-6, normal
distribution of the logarithms), and each board that lies outside the interval of the others.
What counts is what the rails of each job read cold, with everything on the board. It ends
with 1 when a board is odd, or when there are not enough boards for any rail.`, Args: cobra.MinimumNArgs(1)}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		boards, err := goodBoards(cmd.Context(), s, *dir, args)
		if err != nil {
			return err
		}
		list := diagnose.KnownGood(boards)
		odd := diagnose.OddBoards(list)
		if *asJSON {
			err = writeJSON(s.out, map[string]any{"intervals": list, "odd": slices.Concat([]string{}, odd)})
		} else {
			showGood(s, list, odd)
		}
		enough := slices.ContainsFunc(list, func(g capture.GoodInterval) bool { return g.K > 0 })
		if err == nil && (len(odd) > 0 || !enough) {
			return &exitError{code: exitJudgedBad}
		}
		return err
	}
	return c
}

func goodBoards(ctx context.Context, s streams, dir string, ids []string) (out []diagnose.GoodBoard, err error) {
	for i, id := range ids {
		if slices.Contains(ids[:i], id) {
			return nil, usef("boards good: %s is named twice: one board is one witness", id)
		}
		trail, _, err := trailOf(ctx, s, dir, id)
		if err != nil {
			return nil, err
		}
		rested := trail.Rested()
		if len(rested) == 0 {
			return nil, usef("boards good: no rail of %s was read in ohms, cold and with everything on the board", id)
		}
		out = append(out, diagnose.GoodBoard{Name: id, Readings: rested})
	}
	return out, nil
}

func showGood(s streams, list []capture.GoodInterval, odd []string) {
	for _, g := range list {
		fmt.Fprintln(s.out, fitted(s.out, g.Say))
	}
	if len(odd) > 0 {
		fmt.Fprintln(s.out, "Odd: "+strings.Join(odd, ", "))
	}
}
