package cli

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"steadyrail/rules"
)

func versionCommand(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Say which version this is",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			fmt.Fprintf(s.out, "steadyrail %s, judging by rules %s, %s %s/%s\n", Version(), rules.Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		},
	}
}
