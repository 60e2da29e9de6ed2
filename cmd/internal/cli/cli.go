// Package cli is the command line: a file for each command, flags only, no
// work of its own. Results go to stdout, talk to stderr. The commands that
// concern a bench are clients of the daemon that holds the workspace; when none
// runs, those that only read work on the files and say so.
//
// Exit codes: 0 done, 1 the thing judged failed, 2 wrong use or bad
// configuration, 3 the environment failed.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// Exit codes of the program.
const (
	exitDone        = 0
	exitJudgedBad   = 1
	exitUse         = 2
	exitEnvironment = 3
)

// exitError carries an exit code with its cause. A nil cause has been told
// already.
type exitError struct {
	code  int
	cause error
}

func (e *exitError) Error() string {
	if e.cause == nil {
		return fmt.Sprintf("exit %d", e.code)
	}
	return e.cause.Error()
}

func (e *exitError) Unwrap() error { return e.cause }

// use marks err as wrong use or bad configuration.
func use(err error) error { return &exitError{exitUse, err} }

// usef is use with a format.
func usef(format string, args ...any) error { return use(fmt.Errorf(format, args...)) }

// judged marks err as a thing that was judged and failed.
func judged(err error) error { return &exitError{exitJudgedBad, err} }

// streams are the three streams of a command.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// say tells the person something that is not a result.
func (s streams) say(format string, args ...any) {
	fmt.Fprintln(s.err, fitted(s.err, fmt.Sprintf(format, args...)))
}

// Main runs the program and returns its exit code. An interrupt or a request
// to terminate cancels the command's context; a second one ends the process as
// usual.
func Main(args []string, in io.Reader, out, err io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	s := forPeople(in, out, err)
	root := newRoot(s)
	root.SetArgs(positional(root, args))
	return exitCode(root.ExecuteContext(ctx), s.err)
}

func exitCode(failure error, w io.Writer) int {
	if failure == nil {
		return exitDone
	}
	code := exitEnvironment
	var e *exitError
	if errors.As(failure, &e) {
		code = e.code
		if e.cause == nil {
			return code
		}
	}
	fmt.Fprintln(w, fitted(w, fmt.Sprintf("steadyrail: %v", failure)))
	return code
}

func newRoot(s streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "steadyrail",
		Short: "Measure, judge and record the rails of a board under repair",
		Long: `steadyrail polls the meters and supplies of a repair bench, files every reading under
a named rail, judges it, raises alarms, keeps everything and writes the report.

It is not a safety device, not an oscilloscope and not a calibration certificate.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.PersistentPreRun = func(cmd *cobra.Command, _ []string) { s.forShell(cmd); readMark(cmd, s) }
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usef("%s: %s (see: %s --help)", cmd.Name(), flagSaid(cmd, err), cmd.CommandPath())
	})
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(commands(s)...)
	wrongUse(root)
	narrow(root)
	usage := strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages", fmt.Sprintf(".FlagUsagesWrapped %d", columns))
	// The library's sentence about this is longer than a line.
	usage = strings.ReplaceAll(usage, `Use "{{.CommandPath}} [command] --help" for more information about a command.`, `More: {{.CommandPath}} [command] --help`)
	root.SetUsageTemplate(usage)
	return root
}

// narrow makes every long help fit a terminal, down the tree.
func narrow(c *cobra.Command) {
	c.Long = reflowed(c.Long)
	for _, sub := range c.Commands() {
		narrow(sub)
	}
}

// Version tells the program's version: the module's, or the commit it was
// built from.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return "0.1.0-" + s.Value[:12]
		}
	}
	return "0.1.0"
}
