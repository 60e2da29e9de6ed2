package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

// positional puts what begins with a minus and a digit, the name of a negative
// rail or a negative value, where no flag is looked for: behind "--". A true
// minus, as screens print it, is taken for the hyphen of names.
func positional(root *cobra.Command, args []string) []string {
	isValue := valuesOf(root, args)
	var flags, values []string
	for i, a := range args {
		if a == "--" {
			return slices.Concat(flags, args[i:], values)
		}
		name := strings.Replace(a, capture.MinusSign, "-", 1)
		if !isValue(i) && len(name) > 1 && name[0] == '-' && name[1] >= '0' && name[1] <= '9' {
			values = append(values, name)
			continue
		}
		if len(values) > 0 && !strings.HasPrefix(a, "-") && !isValue(i) {
			values = append(values, a) // order among positional arguments is kept
			continue
		}
		flags = append(flags, a)
	}
	if len(values) == 0 {
		return flags
	}
	return append(append(flags, "--"), values...)
}

// valuesOf tells which arguments are values of a flag before them, by the flags
// of the command that is meant. A flag that nobody knows is left to be refused.
func valuesOf(root *cobra.Command, args []string) func(i int) bool {
	cmd, _, _ := root.Find(args) // an unknown command is told of when it is run
	cmd.InitDefaultHelpFlag()
	return func(i int) bool {
		if i == 0 {
			return false
		}
		name, isFlag := strings.CutPrefix(args[i-1], "--")
		if !isFlag || strings.Contains(name, "=") {
			return false
		}
		f := cmd.Flag(name)
		return f != nil && f.NoOptDefVal == "" // a boolean has one: it stands alone
	}
}
