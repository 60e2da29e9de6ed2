package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/cmd/internal/doctor"
	"steadyrail/configs"
)

func doctorCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "doctor [--config FILE]",
		Short: "Look at the whole bench at once, and say what to do",
		Long: `Look at the whole bench at once: versions, configuration, daemon, workspace, room on the
disk and how long it takes until what was written is safe, whether the newest jobs verify up
to their heads, the clock, the port of each instrument, calibration, those who are told of
alarms, and whether a soak can keep this computer awake. Each line says what was looked at,
what was found, and what to do.

No instrument is opened and nothing is sent to one; nobody is told anything. Without --config
it looks at what needs no configuration.

It ends with 0 when nothing has to be done, 1 when something wants attention, 2 when the
configuration is wrong, and 3 when something that the bench needs does not work.`,
		Args: cobra.NoArgs,
	}
	dir := workspaceFlag(c)
	file := c.Flags().String("config", "", "configuration of the bench")
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		b := examined(*file, *dir, cmd.Flags().Changed("workspace"))
		list := b.Look(cmd.Context())
		if *asJSON {
			if err := writeJSON(s.out, list); err != nil {
				return err
			}
		} else {
			showFindings(s, list)
		}
		if code := doctor.Code(list); code != exitDone {
			return &exitError{code: code}
		}
		return nil
	}
	return c
}

// examined is the bench that is meant: the workspace is the configuration's, unless
// another was named.
func examined(file, dir string, named bool) doctor.Bench {
	b := app.Examined(Version())
	b.File, b.Workspace = file, dir
	if file != "" {
		b.Config, b.Problems = configs.LoadWith(file, configs.Options{})
	}
	if b.Config != nil && !named {
		b.Workspace = b.Config.Workspace
	}
	if h, err := store.ReadLock(b.Workspace); err == nil && h.Address != "" {
		b.Daemon = doctor.Serving(h)
	}
	return b
}

// showFindings prints them as people read them: what wants something done has a
// second line.
func showFindings(s streams, list []doctor.Finding) {
	mark := map[doctor.Grade]string{doctor.Fine: "fine  ", doctor.Note: "note  ", doctor.Attend: "ATTEND", doctor.Wrong: "WRONG ", doctor.Fails: "FAILS "}
	todo := 0
	for _, f := range list {
		fmt.Fprintln(s.out, wrapped(fmt.Sprintf("%s  %s: %s", mark[f.Grade], f.Looked, f.Found), "        "))
		if f.Do != "" {
			fmt.Fprintln(s.out, wrapped("        do: "+f.Do, "        "))
		}
		if doctor.Code([]doctor.Finding{f}) != exitDone {
			todo++
		}
	}
	switch todo {
	case 0:
		s.say("nothing has to be done")
	case 1:
		s.say("1 thing to look after")
	default:
		s.say("%d things to look after", todo)
	}
}
