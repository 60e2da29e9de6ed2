package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

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
		_, err = io.WriteString(under(s.out), text) // to be kept in a file
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
