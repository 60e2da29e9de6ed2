package cli

import (
	"encoding/json"
	"io"
	"os"

	"github.com/spf13/cobra"
)

// commands is the table of commands: a line for each.
func commands(s streams) []*cobra.Command {
	return []*cobra.Command{
		demoCommand(s),
		runCommand(s),
		checkCommand(s),
		doctorCommand(s),
		reloadCommand(s),
		portsCommand(s),
		readCommand(s),
		setupCommand(s),
		kept(s, jobCommand(s)),
		placeCommand(s),
		tapCommand(s),
		takeCommand(s),
		walkCommand(s),
		nullCommand(s),
		polarityCommand(s),
		dischargeCommand(s),
		cautionCommand(s),
		ambientCommand(s),
		enterCommand(s),
		correctCommand(s),
		trimCommand(s),
		soakCommand(s),
		outputCommand(s),
		limitsCommand(s),
		injectCommand(s),
		alarmsCommand(s),
		notifiersCommand(s),
		standinCommand(s),
		limiterCommand(s),
		isolateCommand(s),
		boardsCommand(s),
		reportCommand(s),
		exportCommand(s),
		importCommand(s),
		replayCommand(s),
		backupCommand(s),
		eraseCommand(s),
		verifyCommand(s),
		stampCommand(s),
		versionCommand(s),
	}
}

// workspaceFlag adds --workspace, whose default may come from the environment.
func workspaceFlag(c *cobra.Command) *string {
	dir := os.Getenv("STEADYRAIL_WORKSPACE")
	if dir == "" {
		dir = "bench"
	}
	return c.PersistentFlags().String("workspace", dir, "folder of the bench's record (or STEADYRAIL_WORKSPACE)")
}

// jobFlag adds --job.
func jobFlag(c *cobra.Command) *string {
	return c.PersistentFlags().String("job", "", "job that is meant; without it the one opened last")
}

// jsonFlag adds --json.
func jsonFlag(c *cobra.Command) *bool {
	return c.Flags().Bool("json", false, "write the result as JSON, for scripts")
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(under(w))
	e.SetIndent("", "  ")
	return e.Encode(v)
}
