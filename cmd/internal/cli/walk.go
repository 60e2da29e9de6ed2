package cli

import (
	"context"
	"fmt"
	"net/url"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

func walkCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "walk [JOB]",
		Short: "Walk the rails with both hands full: touch, hold, next",
		Long: `Lead from rail to rail and file each figure by itself. It says the rail in large words; touch it
and hold until it is said to be filed, then lift, and touch the next. Under power it reads volts; without
power first all rails in volts, then all in ohms. The proof that a rail is dead lasts a minute, or until
a supply is switched or set; then that rail is asked in volts again.

Any key is the pedal: what it does stands on the screen. A rail without voltage is not seen in volts, nor
an open one in ohms: there the key says that you are on it. x skips, Backspace takes the last one again,
q ends the walk; Ctrl-C leaves it to the page /walk, which takes the same keys.

Scripts look with --look, and press with --press, --skip, --again and --end.
Mains and charged capacitors can kill: local codes and licensed practice govern work on them.`,
		Args: cobra.MaximumNArgs(1),
	}
	dir := workspaceFlag(c)
	asJSON := jsonFlag(c)
	meter := c.Flags().String("meter", "", "meter to walk with; without it the first that is free")
	both := c.Flags().Bool("both", false, "read ohms both ways round")
	once := map[string]*bool{}
	for _, p := range []struct{ name, says string }{{"press", "press the pedal of the walk under way"}, {"skip", "skip its rail"}, {"again", "take its last figure again"}, {"end", "end it"}} {
		once[p.name] = c.Flags().Bool(p.name, false, p.says)
	}
	looking := c.Flags().Bool("look", false, "say where the walk under way stands")
	c.MarkFlagsMutuallyExclusive("press", "skip", "again", "end", "look")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		w := &walker{s: s, d: d, id: strings.Join(args, "")}
		if *looking {
			v, err := w.look(cmd.Context(), 0)
			if err != nil {
				return err
			}
			if *asJSON {
				return writeJSON(s.out, v)
			}
			_, err = fmt.Fprintln(s.out, walkLine(v.View))
			return err
		}
		for name, set := range once {
			if *set {
				res, err := w.do(cmd.Context(), dashboards.WalkAct{Do: name})
				return told(s, res, err)
			}
		}
		if err := w.beginOrJoin(cmd.Context(), dashboards.WalkAct{Do: "begin", Meter: *meter, Both: *both}); err != nil {
			return err
		}
		v, err := w.follow(cmd.Context())
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, v)
		}
		return walkTable(s, v)
	}
	return c
}

// walker follows the walk of a job.
type walker struct {
	s  streams
	d  *client
	id string
}

func (w *walker) do(ctx context.Context, a dashboards.WalkAct) (dashboards.Result, error) {
	return w.d.post(ctx, "/api/v1/walk", struct {
		Job string `json:"job,omitempty"`
		dashboards.WalkAct
	}{w.id, a})
}

func (w *walker) look(ctx context.Context, after uint64) (v dashboards.WalkView, err error) {
	err = w.d.get(ctx, fmt.Sprintf("/api/v1/walk?job=%s&after=%d", url.QueryEscape(w.id), after), &v)
	return v, err
}

// beginOrJoin begins a walk, unless one is under way.
func (w *walker) beginOrJoin(ctx context.Context, a dashboards.WalkAct) error {
	v, err := w.look(ctx, 0)
	if err != nil {
		return err
	}
	w.id = v.Job
	if v.Active {
		w.s.say("A walk is under way in job %s.", w.id)
		return nil
	}
	res, err := w.do(ctx, a)
	return told(streams{out: w.s.err, err: w.s.err}, res, err)
}

// follow shows the walk until it is over.
func (w *walker) follow(ctx context.Context) (dashboards.WalkView, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	pressed, back := rawKeys(w.s)
	defer back()
	screen := newWalkScreen(w.s)
	go w.press(ctx, cancel, pressed, screen)
	defer screen.end()
	for after := uint64(0); ; {
		v, err := w.look(ctx, after)
		if err != nil {
			return v, err
		}
		screen.show(v.View)
		if after = v.Seq; !v.Active {
			return v, nil
		}
	}
}

// press hands keys on until there are none any more, or Ctrl-C, and shows why one
// did nothing.
func (w *walker) press(ctx context.Context, leave context.CancelFunc, keys <-chan byte, screen *walkScreen) {
	for {
		select {
		case <-ctx.Done():
			return
		case k, more := <-keys:
			if !more {
				return
			}
			what := walkKey(k)
			if what == "" {
				leave()
				return
			}
			_, err := w.do(ctx, dashboards.WalkAct{Do: what})
			screen.pressed(err)
		}
	}
}

// walkKey is what a key does; empty: leave the walk to others.
func walkKey(k byte) string {
	switch k {
	case 3, 4: // Ctrl-C, Ctrl-D
		return ""
	case 8, 127:
		return "again"
	case 'x', 'X':
		return "skip"
	case 'q', 'Q':
		return "end"
	}
	return "press"
}

// walkTable prints what every rail came to.
func walkTable(s streams, v dashboards.WalkView) error {
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "rail\tvolts\tohms\treversed\tverdict")
	for _, r := range v.Rows {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", r.Rail, figure(r.Volts), figure(r.Ohms), figure(r.Reversed), r.Verdict)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if v.Leads != "" {
		s.say("%s", v.Leads)
	}
	if v.Note != "" {
		s.say("The walk ended: %s.", v.Note)
	}
	return nil
}

func figure(f walk.Figure) string {
	if f.Text != "" {
		return f.Text
	}
	return f.Why
}
