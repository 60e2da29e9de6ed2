package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"steadyrail/capture"
)

// wrongUse makes complaints about arguments and missing flags ours, down the tree:
// they say what is missing or too much and how the command is used, and exit with 2.
func wrongUse(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(cmd *cobra.Command, args []string) error {
			if err := check(cmd, args); err != nil {
				return usedWrongly(cmd, argumentsSaid(cmd, check, args, err))
			}
			if missing := missingFlags(cmd); missing != "" { // cobra would ask later, and not as ours
				return usedWrongly(cmd, missing)
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		wrongUse(sub)
	}
}

// usedWrongly says what is wrong and how the command is used.
func usedWrongly(c *cobra.Command, what string) error {
	if !c.HasParent() {
		return usef("%s (see: %s --help)", what, c.CommandPath())
	}
	return usef("%s: %s; it is used so: %s (see: %s --help)", c.Name(), what, useLine(c), c.CommandPath())
}

// useLine is how a command is called, without the word that it takes flags.
func useLine(c *cobra.Command) string { return strings.TrimSuffix(c.UseLine(), " [flags]") }

// most is how many arguments are tried to find out whether some are missing.
const most = 4

// argumentsSaid tells what is wrong with arguments: an unknown word, some that are
// missing, or some too many. What a check itself says of a value stays.
func argumentsSaid(c *cobra.Command, check cobra.PositionalArgs, args []string, err error) string {
	if c.HasSubCommands() && len(args) > 0 {
		return unknownCommand(c, args[0])
	}
	padded := append([]string{}, args...)
	for range most {
		if padded = append(padded, "x"); check(c, padded) == nil {
			return missingArgument(args)
		}
	}
	for n := len(args) - 1; n >= 0; n-- {
		if check(c, args[:n]) == nil {
			said := fmt.Sprintf("%q is too much", args[n])
			if n > 0 {
				said += "; a name with blanks stands in quotes"
			}
			return said
		}
	}
	return err.Error()
}

func missingArgument(args []string) string {
	if len(args) == 0 {
		return "nothing was named"
	}
	return fmt.Sprintf("something is missing behind %q", args[len(args)-1])
}

func unknownCommand(c *cobra.Command, word string) string {
	said := fmt.Sprintf("there is no command %q", word)
	var names []string
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	if near := capture.Nearest(word, names); near != "" {
		said += ": did you mean " + near + "?"
	}
	return said
}

// missingFlags names the flags that must be given and were not.
func missingFlags(c *cobra.Command) string {
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if must := f.Annotations[cobra.BashCompOneRequiredFlag]; len(must) > 0 && must[0] == "true" && !f.Changed {
			names = append(names, "--"+f.Name)
		}
	})
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0] + " is missing"
	}
	return strings.Join(names, " and ") + " are missing"
}

// flagSaid tells in words what is wrong with a flag.
func flagSaid(c *cobra.Command, err error) string {
	var value *pflag.InvalidValueError
	var unknown *pflag.NotExistError
	var bare *pflag.ValueRequiredError
	switch {
	case errors.As(err, &value):
		return fmt.Sprintf("--%s: %s", value.GetFlag().Name, valueSaid(value))
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() == "":
		return unknownFlag(c, unknown.GetSpecifiedName())
	case errors.As(err, &bare) && bare.GetSpecifiedShortnames() == "":
		return fmt.Sprintf("--%s wants something behind it", bare.GetSpecifiedName())
	}
	return err.Error()
}

// valueSaid tells what kind of value was meant; the flags of our own kinds say it
// themselves.
func valueSaid(e *pflag.InvalidValueError) string {
	switch e.GetFlag().Value.Type() {
	case "float64":
		return fmt.Sprintf("%q is not a number; write one such as 0.75", e.GetValue())
	case "int", "int64", "uint", "uint64":
		return fmt.Sprintf("%q is not a whole number; write one such as 3", e.GetValue())
	case "duration":
		return fmt.Sprintf("%q is not a length of time; write one such as %s or 1h30m", e.GetValue(), 90*time.Second)
	case "bool":
		return fmt.Sprintf("%q: it stands alone, or with =true or =false", e.GetValue())
	}
	return e.Unwrap().Error()
}

func unknownFlag(c *cobra.Command, name string) string {
	said := "there is no --" + name
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			names = append(names, f.Name)
		}
	})
	if near := capture.Nearest(name, names); near != "" {
		said += ": did you mean --" + near + "?"
	}
	return said
}
