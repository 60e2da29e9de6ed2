package cli

import (
	"fmt"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

func alarmsCommand(s streams) *cobra.Command {
	c := &cobra.Command{Use: "alarms", Short: "List the open alarms; hear, mute, reset them", Args: cobra.NoArgs}
	dir, id := workspaceFlag(c), jobFlag(c)
	asJSON := jsonFlag(c)
	ended := c.Flags().Bool("ended", false, "below them those that are over, newest first, with what raised each, its worst and how it ended")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		var answer struct {
			Job     string                `json:"job"`
			Alarms  []capture.Transition  `json:"open"`
			Courses []capture.AlarmCourse `json:"courses"`
			Past    []capture.Transition  `json:"past"`
			Mutes   capture.Mutes         `json:"mutes"`
		}
		if err := d.get(cmd.Context(), "/api/v1/alarms?job="+url.QueryEscape(*id), &answer); err != nil {
			return err
		}
		var over []listed
		if *ended {
			if over, err = endedIn(cmd.Context(), s, *dir, answer.Job); err != nil {
				return err
			}
		}
		if *asJSON {
			return writeJSON(s.out, append(withCourses(answer.Alarms, answer.Courses), over...))
		}
		if len(answer.Alarms) == 0 {
			fmt.Fprintf(s.out, "No open alarm in %s.\n", answer.Job)
		} else {
			fmt.Fprintf(s.out, "%s:\n", answer.Job)
		}
		for _, l := range withCourses(answer.Alarms, answer.Courses) {
			l.print(s.out)
		}
		for _, l := range over {
			l.print(s.out)
		}
		if n := len(answer.Past); n > 0 && !*ended {
			fmt.Fprintf(s.out, "Over: %d. They are listed by steadyrail alarms --ended\n", n)
		}
		for _, m := range answer.Mutes {
			fmt.Fprintf(s.out, "muted until %s%s: %s\n", m.Until.Time().Local().Format("2006-01-02 15:04:05"), byWhom(m.By), m.Of())
		}
		return nil
	}
	for _, v := range []struct {
		use, short string
		verb       capture.Verb
	}{
		{"heard ALARM", "Say that an alarm was heard", capture.ActHeard},
		{"reset ALARM", "Reset the latch of an alarm that has gone", capture.ActReset},
	} {
		c.AddCommand(&cobra.Command{Use: v.use, Short: v.short, Args: cobra.ExactArgs(1),
			RunE: func(cmd *cobra.Command, args []string) error {
				return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: v.verb, Subject: args[0]})
			}})
	}
	c.AddCommand(muteCommand(s, dir, id), unmuteCommand(s, dir, id))
	return c
}

// stateWords is an alarm's state, and why nobody is told of it.
func stateWords(t capture.Transition) string {
	if t.Muted == "" {
		return t.To.String()
	}
	return t.To.String() + ", nobody told: " + t.Muted
}

func byWhom(by string) string {
	if by == "" {
		return ""
	}
	return " by " + by
}

func muteCommand(s streams, dir, id *string) *cobra.Command {
	c := &cobra.Command{
		Use: "mute WHAT", Short: "Tell nobody of an alarm, a rule or a rail for a while", Args: cobra.ExactArgs(1),
		Long: `Tell nobody of an alarm, a rule or a rail for a while:
  steadyrail alarms mute "band +5 V logic" --for 15m
It is recorded all the same, a trip still trips, and what is there when the mute ends is
told then. steadyrail alarms says what is muted until when.`,
	}
	long := length(15 * time.Minute)
	c.Flags().Var(&long, "for", "how long, such as 15m or 2h; 30 days at most")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if d := time.Duration(long); d <= 0 || d > capture.MostMuted {
			return usef("--for must be longer than nothing and 720h at most")
		}
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActMute, Subject: args[0], Value: time.Duration(long).Seconds()})
	}
	return c
}

func unmuteCommand(s streams, dir, id *string) *cobra.Command {
	return &cobra.Command{
		Use: "unmute WHAT", Short: "End a mute before its time", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActMute, Subject: args[0]})
		},
	}
}
