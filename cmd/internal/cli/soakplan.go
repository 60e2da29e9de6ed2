package cli

import (
	"fmt"
	"math"
	"net/url"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// planFlags explains the flags of soak plan, which are the keys of the API with
// dashes.
var planFlags = map[string]string{
	"failed_every":  "it failed about once in this time: 24h, \"3 days\"",
	"cycles_failed": "it failed in so many power cycles: 1/20",
	"confidence":    "percent, 95 when left out",
	"dip":           "length of the dip by which it fails: 50ms",
	"depth":         "percent of the value that the dip takes away, 50 when left out",
	"meter":         "instrument or channel that will watch; needs the daemon",
	"aperture":      "for how long the meter looks for one reading: 20ms",
	"every":         "from reading to reading: 200ms",
	"warm":          "from cold, in which it never failed: 30m",
}

func soakPlanCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "plan",
		Short: "Say how long a soak must last, and what that would prove",
		Long: `Say how long a soak must last to show that a fault comes less often than it did:
  steadyrail soak plan --failed-every 24h
  steadyrail soak plan --failed-every 3h --dip 50ms --depth 100% --meter dmm
  steadyrail soak plan --failed-every 3h --dip 50ms --aperture 20ms --every 0.2s
  steadyrail soak plan --cycles-failed 1/20
A dip that the meter sees only sometimes takes longer. Nothing is started: see
steadyrail soak start --for LENGTH.`,
		Args: cobra.NoArgs,
	}
	dir, asJSON := workspaceFlag(c), jsonFlag(c)
	texts := map[string]*string{}
	for _, key := range capture.SoakKeys {
		texts[key] = c.Flags().String(strings.ReplaceAll(key, "_", "-"), "", planFlags[key])
	}
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		p, err := askPlan(cmd, *dir, func(key string) string { return *texts[key] })
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, p)
		}
		for _, line := range p.Say {
			fmt.Fprintln(s.out, fitted(s.out, line))
		}
		if p.Planned > 0 {
			fmt.Fprintln(s.err, "To start it: steadyrail soak start --for", forFlag(p.Planned))
		}
		return nil
	}
	return c
}

// askPlan answers by itself, or has the daemon answer when a meter is named: it
// knows how that one looks.
func askPlan(cmd *cobra.Command, dir string, text func(string) string) (p capture.SoakPlan, err error) {
	q, err := capture.ParseSoakQuestion(text)
	if err != nil {
		key, why, _ := strings.Cut(err.Error(), ": ")
		return p, usef("--%s: %s", strings.ReplaceAll(key, "_", "-"), why)
	}
	if q.Meter == "" {
		if p, err = coverage.Plan(q); err != nil {
			return p, use(err)
		}
		return p, nil
	}
	d, err := daemon(dir)
	if err != nil {
		return p, err
	}
	query := url.Values{}
	for _, key := range capture.SoakKeys {
		if v := text(key); v != "" {
			query.Set(key, v)
		}
	}
	return p, d.get(cmd.Context(), "/api/v1/soakplan?"+query.Encode(), &p)
}

// forFlag writes a length in seconds as --for takes it, rounded up: in minutes,
// and from ten hours on in whole hours, as the sentence says it.
func forFlag(seconds float64) string {
	if hours := seconds / 3600; hours > 10 {
		return fmt.Sprintf("%.0fh", math.Ceil(hours))
	}
	return fmt.Sprintf("%.0fm", math.Ceil(seconds/60))
}
