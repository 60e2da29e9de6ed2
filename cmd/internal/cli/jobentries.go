package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// jobEntries are the commands for what stands beside readings.
func jobEntries(s streams, dir *string) []*cobra.Command {
	return []*cobra.Command{
		jobFile(s, dir, "picture", "Add a picture to a job", "what it shows: \"+5 V converter, old\""),
		jobFile(s, dir, "sound", "Add a sound to a job: a voice note, or the noise it makes", "what it is about"),
		jobPart(s, dir), jobFinding(s, dir), jobIndication(s, dir), jobSet(s, dir), jobErase(s, dir), jobReturned(s, dir), jobPhone(s, dir),
	}
}

// named takes "AB-0147 FILE" or "FILE" with --job.
func named(args []string, id *string) (rest string) {
	if len(args) == 2 {
		*id = args[0]
	}
	return args[len(args)-1]
}

func jobFinding(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "finding TEXT", Short: "Add a finding: a conclusion with its evidence", Args: cobra.ExactArgs(1)}
	id := jobFlag(c)
	of := c.Flags().String("of", "", "what it is about: a rail or a part")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActFinding, Subject: *of, Text: args[0]})
	}
	return c
}

func jobIndication(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "indication TEXT", Short: "Add what the set says of itself; kept apart from evidence", Args: cobra.ExactArgs(1),
		Long: "Add what the set says of itself: blink codes, error numbers. It is listed apart, and nothing is judged by it.",
	}
	id := jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActIndication, Text: args[0]})
	}
	return c
}

func jobSet(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "set [JOB] --customer TEXT --serial TEXT", Short: "Complete the sheet of an open job", Args: cobra.MaximumNArgs(1),
		Long: `Complete the sheet of an open job: customer and serial number may come later. What stood there before
stays in the record:
  steadyrail job set --customer "E. Harrow" --serial 00123457
  steadyrail job set AB-0147 --symptom "dead keys, hiss at power-up"`,
	}
	id := jobFlag(c)
	lines := []struct{ flag, say string }{
		{"set", "what was brought"}, {"board", "board under repair"}, {"serial", "serial number of the set"}, {"customer", "whose it is"},
		{"symptom", "what is wrong with it"}, {"indication", "what the set says of itself"}, {"technician", "who works on it"},
	}
	for _, l := range lines {
		c.Flags().String(l.flag, "", l.say)
	}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 1 {
			*id = args[0]
		}
		change := map[string]string{}
		for _, l := range lines {
			if f := c.Flags().Lookup(l.flag); f.Changed {
				name := l.flag
				if name == "serial" {
					name = "serial_number"
				}
				change[name] = f.Value.String()
			}
		}
		if len(change) == 0 {
			return usef(`job set: say what: --customer "..." or --serial 00123457`)
		}
		return inHand(cmd.Context(), s, *dir, `job set AB-0147 --customer "..."`, id, func(d *client) (dashboards.Result, error) {
			return d.post(cmd.Context(), jobPath(*id, "sheet"), change)
		})
	}
	return c
}

// inHand finds the daemon and, where none is named, the job opened last.
func inHand(ctx context.Context, s streams, dir, such string, id *string, do func(*client) (dashboards.Result, error)) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	if *id == "" {
		if *id, err = newestOpen(ctx, s, dir, such); err != nil {
			return err
		}
	}
	res, err := do(d)
	return told(s, res, err)
}

func jobPhone(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "phone [JOB]", Short: "Open a page for a phone: pictures and sounds for a job", Args: cobra.MaximumNArgs(1),
		Long: `Open a page for a phone, which takes pictures and sounds for one job. The job's page shows its
code to scan. It is encrypted with a certificate made for it that no authority vouches for:
the phone will warn. Compare the fingerprint that it shows with the one here before going on.
Who has the address can add to this job and see nothing of it, until it closes by itself.`,
	}
	id := jobFlag(c)
	minutes := c.Flags().Int("minutes", 10, "how long it is open, at most 60")
	address := c.Flags().String("address", "", "of this computer, that the phone reaches: 192.168.1.20 or 192.168.1.20:8471")
	end := c.Flags().Bool("close", false, "close it now")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 1 {
			*id = args[0]
		}
		return inHand(cmd.Context(), s, *dir, "job phone AB-0147", id, func(d *client) (res dashboards.Result, err error) {
			if *end {
				resp, err := d.do(cmd.Context(), http.MethodDelete, jobPath(*id, "handover"), nil)
				if err != nil {
					return res, err
				}
				defer resp.Body.Close()
				return res, json.NewDecoder(resp.Body).Decode(&res)
			}
			var h dashboards.Handover
			if err := d.send(cmd.Context(), jobPath(*id, "handover"), map[string]any{"minutes": *minutes, "address": *address}, &h); err != nil {
				return res, err
			}
			res.Say = fmt.Sprintf("%s\nOpen until %s for job %s. SHA-256 fingerprint of its certificate:\n%s", h.URL, h.Ends.Local().Format("15:04:05"), h.Job, h.Fingerprint)
			return res, nil
		})
	}
	return c
}
