package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

func checkCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "check --config FILE [--try [INSTRUMENT]...]",
		Short: "Check a configuration and tell every problem at once",
		Long: `Check a configuration, the model files of its folder included, and tell every
problem at once, each with file and line.

With --try it then opens the instruments of the configuration, all or those that
are named, and reads each channel once: who answers, what came, and where that
is not what the model file says. It shows first what it will send, and sends
nothing before that was confirmed. It never switches and never sets anything.`,
		Args: cobra.ArbitraryArgs,
	}
	file := configFlag(c)
	asJSON := jsonFlag(c)
	try := c.Flags().Bool("try", false, "open the instruments and read each channel once")
	yes := c.Flags().Bool("yes", false, "with --try: send without asking")
	c.RunE = func(cmd *cobra.Command, names []string) error {
		switch {
		case len(names) > 0 && !*try:
			return usef("check: %q: instruments are named with --try", names[0])
		case *try && *asJSON:
			return usef("check: --json goes without --try")
		case *asJSON:
			return checkJSON(s, *file)
		}
		cfg, err := loadConfig(s, *file, nil)
		if err != nil {
			return err
		}
		fmt.Fprintf(s.out, "%s is right: bench %s, %d %s, workspace %s\n", *file, cfg.Bench, len(cfg.Instruments), plural(uint64(len(cfg.Instruments)), "instrument", "instruments"), cfg.Workspace)
		notes(s, cfg)
		if !*try {
			return nil
		}
		return tryInstruments(cmd.Context(), s, cfg, names, *yes)
	}
	return c
}

// notes says which instruments a person must confirm before they count.
func notes(s streams, cfg *configs.Config) {
	for _, c := range cfg.Instruments {
		a, err := wire.ParseAddress(c.Link)
		if err == nil && !cfg.Models[c.Model].Identifies() && a.Serial == "" && c.Expect == (capture.Identity{}) {
			s.say("note: %s says nothing of itself. Unless its adapter has a serial number,\nconfirm it after each connection: steadyrail tap %s RAIL", c.Name, c.Name)
		}
	}
}

func checkJSON(s streams, file string) error {
	_, problems := configs.LoadWith(file, configs.Options{})
	if err := writeJSON(s.out, append([]configs.Problem{}, problems...)); err != nil {
		return err
	}
	if len(problems) > 0 {
		return &exitError{code: exitUse}
	}
	return nil
}

// tryTime bounds one instrument's trial.
const tryTime = 30 * time.Second

// tryInstruments shows what will be sent, asks, and reads every channel once.
// What does not go as the model says makes the exit code 1.
func tryInstruments(ctx context.Context, s streams, cfg *configs.Config, names []string, yes bool) error {
	list, err := chosen(cfg, names)
	if err != nil {
		return err
	}
	for _, c := range list {
		if err := announce(s, c, cfg.Models); err != nil {
			return use(err)
		}
	}
	if !yes {
		if err := confirm(ctx, s, "Send this?"); err != nil {
			return err
		}
	}
	links, good := &drivers.Links{Unset: s.unset}, true
	for _, c := range list {
		ctx, cancel := context.WithTimeout(ctx, tryTime)
		fine, err := tryOne(ctx, s, links, c, cfg.Models)
		cancel()
		if err != nil {
			fmt.Fprintln(s.out, wrapped(c.Name+": "+plainly(err, c.Name), "  "))
		}
		good = good && fine && err == nil
	}
	if !good {
		return judged(nil)
	}
	return nil
}

// chosen picks the instruments that are named, all when none is. Nothing may be
// done to them, whatever the configuration allows.
func chosen(cfg *configs.Config, names []string) (out []drivers.Config, err error) {
	var known []string
	for _, c := range cfg.Instruments {
		known = append(known, c.Name)
		if len(names) == 0 || slices.Contains(names, c.Name) {
			c.Acts, c.OnExit, c.Record = nil, drivers.ExitLeave, ""
			out = append(out, c)
		}
	}
	for _, n := range names {
		if !slices.Contains(known, n) {
			return nil, usef("check: there is no instrument %q: the configuration has %s", n, strings.Join(known, ", "))
		}
	}
	return out, nil
}

// announce shows what an instrument's trial will send.
func announce(s streams, c drivers.Config, models drivers.Models) error {
	phrases, err := drivers.Tour(c, models)
	if err != nil {
		return err
	}
	if len(phrases) == 0 {
		s.say("%s", wrapped(fmt.Sprintf("%s on %s: nothing is sent, it talks by itself", c.Name, c.Link), "  "))
		return nil
	}
	s.say("%s on %s will be sent%s:", c.Name, c.Link, lineEnd(models[c.Model]))
	for _, p := range phrases {
		s.say("  %s", p)
	}
	return nil
}

// lineEnd says what ends each line of text.
func lineEnd(m drivers.Model) string {
	switch {
	case m.Dialect != "scpi":
		return ""
	case m.Line.Terminator == "":
		return ", each line ended by LF"
	}
	return ", each line ended by " + m.Line.Terminator
}

// tryOne connects one instrument, says who it is, and reads each channel.
func tryOne(ctx context.Context, s streams, links *drivers.Links, c drivers.Config, models drivers.Models) (bool, error) {
	in, err := links.Open(c, models)
	if err != nil {
		return false, err
	}
	defer in.Close()
	if err := in.Connect(ctx); err != nil {
		return false, err
	}
	info := in.Info()
	fmt.Fprintln(s.out, wrapped(fmt.Sprintf("%s: %s, %s", c.Name, who(info.Identity), knownBy[info.Identity.Source]), "    "))
	if info.AutoOff > 0 {
		fmt.Fprintf(s.out, "  it switches itself off after %v untouched\n", info.AutoOff)
	}
	good := true
	var elsewhere []string
	for _, ch := range info.Channels {
		fine, err := tryChannel(ctx, s, in, ch)
		switch {
		case errors.Is(err, drivers.ErrNoChannel):
			elsewhere = append(elsewhere, ch.ID.Input())
			continue
		case err != nil:
			fmt.Fprintln(s.out, wrapped(fmt.Sprintf("  %s: %s", ch.ID, plainly(err, c.Name)), "    "))
		}
		good = good && fine && err == nil
	}
	if len(elsewhere) > 0 {
		fmt.Fprintln(s.out, wrapped("  others need the dial turned: "+strings.Join(elsewhere, ", "), "    "))
	}
	return good && len(elsewhere) < len(info.Channels), nil
}

// plainly is an error without the name that the line begins with.
func plainly(err error, name string) string {
	text := err.Error()
	for strings.HasPrefix(text, name+": ") {
		text = strings.TrimPrefix(text, name+": ")
	}
	return text
}

// knownBy says on which rung of the ladder an identity stands.
var knownBy = map[string]string{
	"idn":     "known by the serial number it gave",
	"adapter": "known by its adapter's serial number: it gave none itself",
	"path":    "known only by where it is plugged in: another one there would not be noticed",
	"":        "known by nothing: its readings belong to no rail until it is tapped",
}

// tryChannel takes one reading, and says what the model claims against what came.
func tryChannel(ctx context.Context, s streams, in drivers.Instrument, ch capture.ChannelInfo) (bool, error) {
	if err := in.Select(ctx, ch.ID); err != nil {
		return false, err
	}
	if !settled(ctx, ch.Settle) {
		return false, ctx.Err()
	}
	begun := time.Now()
	r, err := in.Measure(ctx, ch.ID)
	if errors.Is(err, drivers.ErrTimeout) { // the first one after a change may look for its range
		begun = time.Now()
		r, err = in.Measure(ctx, ch.ID)
	}
	took := time.Since(begun)
	if err != nil {
		return false, err
	}
	fmt.Fprintln(s.out, wrapped(fmt.Sprintf("  %s: %s", ch.ID, strings.Join(came(in, ch, r, took), ", ")), "    "))
	against := contrary(ch, r, took)
	for _, what := range against {
		fmt.Fprintln(s.out, wrapped("    not as the model says: "+what, "      "))
	}
	return len(against) == 0, nil
}

// settled waits until readings count.
func settled(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// came says what a reading holds.
func came(in drivers.Instrument, ch capture.ChannelInfo, r capture.Reading, took time.Duration) []string {
	if !r.HasValue() {
		return []string{strings.Join(flagWords(r.Flags), ", "), fmt.Sprintf("answered after %s", round(took))}
	}
	unit := r.Quantity.Unit()
	out := []string{unit.Text(r.Value, r.Resolution), fmt.Sprintf("one count is %s", unit.Text(r.Resolution, r.Resolution))}
	if r.Range > 0 {
		out = append(out, "range "+unit.Text(r.Range, 0))
	}
	out = append(out, flagWords(r.Flags)...)
	answered := fmt.Sprintf("answered after %s", round(took))
	// The line's time is reckoned from its rate; what has no real rate is faster.
	if line := in.Transfer(len(r.Text) + 1); line > 0 && line < took {
		answered += fmt.Sprintf(", of it %s on the line", round(line))
	}
	out = append(out, answered)
	if ch.InputOhms > 0 {
		out = append(out, "input set to "+capture.Ohm.Text(ch.InputOhms, 0))
	}
	return out
}

func round(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }

// contrary lists what came and is not what the model claims.
func contrary(ch capture.ChannelInfo, r capture.Reading, took time.Duration) (out []string) {
	if r.HasValue() && len(ch.Accuracy) > 0 && r.Range == 0 {
		out = append(out, "no range it lists has this resolution and holds this value, so no accuracy is known")
	}
	if claim := ch.Aperture + ch.Lag; !ch.Streams && !ch.Runs && claim > 0 && took < claim*9/10 {
		out = append(out, fmt.Sprintf("aperture and lag are %v, the answer came after %v", claim, round(took)))
	}
	return out
}
