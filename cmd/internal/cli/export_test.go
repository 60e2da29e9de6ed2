package cli

import (
	"io"
	"slices"
	"strings"
)

// Understands reports whether a command line is one that exists: the command, its
// flags and the number of its arguments. Nothing is run.
func Understands(args []string) error {
	root := newRoot(streams{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	cmd, rest, err := root.Find(positional(root, slices.Clone(args)))
	if err != nil {
		return err
	}
	cmd.InitDefaultHelpFlag()
	if err := cmd.ParseFlags(rest); err != nil {
		return err
	}
	if !cmd.Runnable() || cmd == root {
		return usef("%s does nothing by itself", cmd.CommandPath())
	}
	if err := cmd.ValidateArgs(cmd.Flags().Args()); err != nil {
		return err
	}
	return cmd.ValidateRequiredFlags()
}
