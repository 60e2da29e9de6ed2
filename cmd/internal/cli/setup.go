package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/cmd/internal/paper"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

func setupCommand(s streams) *cobra.Command {
	var u setup
	var answers string
	c := &cobra.Command{
		Use:   "setup [--out FILE]",
		Short: "Walk through a new bench, to a first configuration",
		Long: `Walk through a new bench in a quarter of an hour: what you may open and what to paste so that
you may, which ports there are, what hangs on each, and a configuration to start with. Nothing
is opened or sent without a yes. A file that is there is never overwritten, and Ctrl-C leaves
nothing behind. With --answers the questions are answered from a file, one line each.`,
		Args: cobra.NoArgs,
	}
	f := c.Flags()
	f.StringVar(&u.out, "out", "bench.yaml", "configuration to write")
	f.StringVar(&answers, "answers", "", "file with the answers, one a line; - for stdin")
	f.StringVar(&u.modelDir, "models", "", "folder with model files of your own")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := u.fresh(); err != nil {
			return err
		}
		in, live := s.in, fromTerminal(s.in)
		if answers != "" && answers != "-" {
			file, err := os.Open(answers)
			if err != nil {
				return usef("--answers: %w", err)
			}
			defer file.Close()
			in, live = file, false
		}
		u.streams, u.asker = s, newAsker(in, s.err, live)
		return u.told(u.run(cmd.Context()))
	}
	return c
}

// setup asks about a bench and writes its first configuration.
type setup struct {
	streams
	asker    *asker
	out      string
	modelDir string
	models   drivers.Models
	plan     plan
	rules    []string        // device rules, one for each adapter that was taken
	taken    map[string]bool // places that have an instrument
	answer   string          // what the instrument being named said of itself when it was asked
	warned   bool            // what opening a serial port may do was told
	written  bool
}

// fresh refuses a file that is there, before any question is asked.
func (u *setup) fresh() error {
	_, err := os.Lstat(u.out)
	switch {
	case err == nil:
		return usef("setup: %s is there already and is not overwritten: name another with --out FILE", u.out)
	case !errors.Is(err, fs.ErrNotExist):
		return usef("setup: %s: %w", u.out, err)
	}
	if _, err := os.Stat(filepath.Dir(u.out)); err != nil {
		return usef("setup: there is no folder %s: make it first, or name another with --out FILE", filepath.Dir(u.out))
	}
	return nil
}

// told adds to a failure that nothing was written.
func (u *setup) told(err error) error {
	var e *exitError
	switch {
	case err == nil, errors.As(err, &e) && u.written:
		return err
	case errors.As(err, &e):
		return &exitError{e.code, fmt.Errorf("%w; nothing was written", err)}
	case errors.Is(err, errNoAnswer):
		return usef("setup: the answers end at the question %w; nothing was written", err)
	case errors.Is(err, context.Canceled):
		return errors.New("setup: stopped; nothing was written")
	}
	return fmt.Errorf("setup: %w", err)
}

func (u *setup) run(ctx context.Context) error {
	var err error
	if u.models, err = drivers.LoadModels(u.modelDir); err != nil {
		return use(err)
	}
	u.taken = map[string]bool{}
	u.say("A new bench. What stands in [brackets] is what an empty answer does.")
	u.say("Nothing is opened or sent without a yes; Ctrl-C leaves nothing behind.")
	list, err := wire.Ports()
	if err != nil {
		return err
	}
	for _, step := range []func(context.Context, []wire.Port) error{u.askBench, u.showPorts, u.askPorts, u.askOthers, u.askHandhelds} {
		if err := step(ctx, list); err != nil {
			return err
		}
	}
	if len(u.plan.instruments) == 0 {
		return usef("setup: no instrument was named, and a bench without one measures nothing")
	}
	if err := u.write(); err != nil {
		return err
	}
	if err := u.check(); err != nil {
		return err
	}
	u.showRules()
	u.showNext()
	return nil
}

// say is the streams' say for lines that may be long.
func (u *setup) say(format string, args ...any) {
	for line := range strings.SplitSeq(fmt.Sprintf(format, args...), "\n") {
		fmt.Fprintln(u.err, wrappedFor(u.err, line, line[:len(line)-len(strings.TrimLeft(line, " "))]))
	}
}

func (u *setup) heading(text string) { u.say("\n%s", text) }

func (u *setup) askBench(ctx context.Context, _ []wire.Port) error {
	u.heading("The bench")
	for _, q := range []struct {
		into *string
		question
	}{
		{&u.plan.bench, question{text: "Name of the bench", preset: "bench", check: checkBench}},
		{&u.plan.workspace, question{text: "Folder of the record, beside the configuration", preset: "./bench", check: checkFolder}},
		{&u.plan.decimal, question{text: "Decimal mark you type, point or comma", preset: "point", check: oneOf("point", "comma")}},
	} {
		answer, err := u.asker.ask(ctx, q.question)
		if err != nil {
			return err
		}
		*q.into = answer
	}
	return nil
}

// showPorts lists what is there and says what stands in the way of opening it.
func (u *setup) showPorts(_ context.Context, list []wire.Port) error {
	u.heading("Ports")
	if len(list) == 0 {
		u.say("None was found. Plug the instruments in and begin again, or name links below.")
	}
	var closed []wire.Port
	for _, p := range list {
		showPort(u.err, p)
		if !mayOpen(p) {
			closed = append(closed, p)
		}
	}
	if len(closed) == 0 {
		return nil
	}
	u.say("\n%d of them you may not open now. They can be named all the same, but not asked.", len(closed))
	u.say("What to paste for those you name stands at the end.")
	return nil
}

// askPorts goes through the ports that were found.
func (u *setup) askPorts(ctx context.Context, list []wire.Port) error {
	if len(list) > 0 {
		u.heading("Instruments")
		u.showModels()
	}
	for _, p := range list {
		if p.Link == "" {
			continue // showPorts has said why
		}
		u.say("")
		link := p.Link
		model, err := u.askModel(ctx, "On "+p.Name, &link, mayOpen(p))
		if err != nil {
			return err
		}
		if model == "" {
			continue
		}
		if err := u.instrument(ctx, model, link, mayOpen(p)); err != nil {
			return err
		}
		if p.VID != "" {
			u.addRule(p)
		}
	}
	return nil
}

func (u *setup) showModels() {
	u.say("Models, by name or number:")
	for i, name := range u.models.Names() {
		u.say("  %2d  %-20s %s", i+1, name, u.models[name].Title)
	}
}

// askModel asks what is on a port; empty is nothing. Where the port may be
// opened, ? asks the instrument itself, and its answer proposes a model. What it
// was understood with is put behind the link.
func (u *setup) askModel(ctx context.Context, where string, link *string, open bool) (string, error) {
	q := u.modelQuestion(where + ": which model")
	if open {
		q.text += " (? asks who is there)"
		model := q.check
		q.check = func(s string) (string, error) {
			if s == "?" {
				return s, nil
			}
			return model(s)
		}
	}
	u.answer = ""
	answer, err := u.asker.ask(ctx, q)
	if answer != "?" || err != nil {
		return answer, err
	}
	proposal, err := u.propose(ctx, link)
	if err != nil {
		return "", err
	}
	q = u.modelQuestion(where + ": which model")
	if proposal != "" {
		q.preset, q.empty = proposal, ""
	}
	return u.asker.ask(ctx, q)
}

// propose asks who is on a link, when that is allowed, and returns the model
// that fits the answer; empty when nothing can be said.
func (u *setup) propose(ctx context.Context, link *string) (string, error) {
	t, err := (&prober{bauds: []int{9600, 19200, 115200}}).target(*link, nil)
	if err != nil {
		return "", err
	}
	u.showPlan(t)
	yes, err := u.asker.yes(ctx, "  Do that")
	if err != nil || !yes {
		return "", err
	}
	f := t.probe(ctx)
	if f.Answer != "" || f.Heard != "" {
		f.show(u.err)
	} else {
		u.say("  It did not say who it is: %s", f.Problem)
	}
	if f.Answer == "" && !f.failed {
		return u.listening(ctx, link, f.Heard), nil
	}
	*link = foundAt(*link, f)
	u.answer = f.Answer
	return u.fitting(f), nil
}

// listening returns the model of a meter that talks by itself: one that
// understands it, at that model's own rate.
func (u *setup) listening(ctx context.Context, link *string, heard string) string {
	o := once{link: *link}
	name, err := o.listener(ctx, u.models, heard)
	switch {
	case err == nil:
		u.say("  A %s understands what it says by itself.", name)
		*link = o.link
		return name
	case heard != "":
		u.say("  %v", err)
	}
	return ""
}

// modelQuestion takes a model by name or number.
func (u *setup) modelQuestion(text string) question {
	names := u.models.Names()
	return question{text: text, empty: "leave it out", check: func(s string) (string, error) {
		for i, name := range names {
			if s == name || s == fmt.Sprint(i+1) {
				return name, nil
			}
		}
		return "", fmt.Errorf("there is no model %q: answer %s, or 1 to %d", s, strings.Join(names, ", "), len(names))
	}}
}

// fitting returns the model that fits an answer: whoever has a model's word in
// its name, else the usual one.
func (u *setup) fitting(f finding) string {
	if f.Answer == "" {
		return ""
	}
	name := cmp.Or(u.models.Answering(f.Answer), usual)
	if _, ok := u.models[name]; !ok {
		return ""
	}
	return name
}

// askOthers asks for links that no list can show: the network, and what has
// another name.
func (u *setup) askOthers(ctx context.Context, list []wire.Port) error {
	u.heading("Other links")
	u.say("An instrument on the network is tcp:HOST:5025, hislip:HOST or vxi11:HOST.\nA meter without a port is asked for after them.")
	for {
		link, err := u.asker.ask(ctx, question{text: "Link", empty: "no more", check: u.checkLink})
		if err != nil || link == "" {
			return err
		}
		if len(list) == 0 && len(u.plan.instruments) == 0 {
			u.showModels()
		}
		model, err := u.askModel(ctx, "On it", &link, true)
		for err == nil && model == "" {
			var leave bool
			if leave, err = u.asker.yes(ctx, "Leave it out"); leave || err != nil {
				break
			}
			model, err = u.askModel(ctx, "On it", &link, true)
		}
		if err != nil {
			return err
		}
		if model == "" {
			continue
		}
		if err := u.instrument(ctx, model, link, true); err != nil {
			return err
		}
	}
}

func (u *setup) checkLink(s string) (string, error) {
	s = plainPath(s)
	a, err := wire.ParseAddress(s)
	switch {
	case err != nil:
		return "", err
	case u.taken[a.Place()]:
		return "", fmt.Errorf("%s has an instrument already", a)
	}
	return s, nil
}

// instrument asks everything about one instrument.
func (u *setup) instrument(ctx context.Context, model, link string, open bool) error {
	in := entry{model: model, link: link}
	if a, err := wire.ParseAddress(link); err == nil {
		u.taken[a.Place()] = true
	}
	m := u.models[model]
	for _, q := range u.questions(&in, m) {
		if q.when != nil && !q.when() {
			continue
		}
		answer, err := u.asker.ask(ctx, q.question)
		if err != nil {
			return err
		}
		*q.into = answer
	}
	switch {
	case m.Dialect != "scpi":
	case u.answer != "":
		u.pin(&in, u.answer, "")
	case open:
		if err := u.identify(ctx, &in, m); err != nil {
			return err
		}
	}
	u.plan.instruments = append(u.plan.instruments, in)
	return nil
}

// asking is a question with the place of its answer.
type asking struct {
	into *string
	when func() bool // nil: always
	question
}

func (u *setup) questions(in *entry, m drivers.Model) []asking {
	list := []asking{
		{&in.name, nil, question{text: "  Name", preset: u.freeName(in.model), check: u.checkName}},
		{&in.baud, func() bool { return needsBaud(in.link) }, question{text: "  Baud rate", empty: "as the model says", check: checkBaud}},
		{&in.category, nil, question{text: "  Category beside its sockets, as CAT II 300 V", empty: "not stated", check: categoryAnswer()}},
		{&in.port, nil, question{text: "  Computer's side, isolated or earthed", empty: "not stated, no mains side then", check: oneOf("isolated", "earthed")}},
		{&in.output, func() bool { return onExit(m) != "" }, question{text: "  Its minus, floating or earthed", empty: "not stated, counts as earthed", check: oneOf("floating", "earthed")}},
		{&in.due, nil, question{text: "  Calibration due, as 2027-03-01", empty: "not stated", check: checkDate}},
	}
	can := m.Acts()
	if len(can) == 0 {
		return list
	}
	words := append([]string{"no"}, can...)
	if len(can) > 1 {
		words = append(words, "both")
	}
	list = append(list, asking{&in.acts, nil, question{text: "  May it be switched here: " + strings.Join(words, ", "), preset: "no", check: func(s string) (string, error) {
		s, err := oneOf(words...)(s)
		if s == "both" {
			s = strings.Join(can, ", ")
		}
		return s, err
	}}})
	if onExit(m) == "" {
		return list
	}
	return append(list, asking{&in.onExit, nil, question{text: fmt.Sprintf("  At the end its %s stays or goes: leave, off", can[0]), preset: "leave", check: func(s string) (string, error) {
		s, err := oneOf("leave", "off")(s)
		if s == "off" && !strings.Contains(in.acts, can[0]) {
			return "", fmt.Errorf("off needs %s among what may be switched: answer leave", can[0])
		}
		return s, err
	}}})
}

// identify asks who is there, when that is allowed, and pins it.
func (u *setup) identify(ctx context.Context, in *entry, m drivers.Model) error {
	a, err := wire.ParseAddress(in.fullLink())
	if err != nil {
		return err
	}
	t := target{name: in.link, address: a, lines: []wire.Line{m.Line}}
	u.showPlan(t)
	yes, err := u.asker.yes(ctx, "  Do that, to pin its serial number")
	if err != nil || !yes {
		return err
	}
	f := t.probe(ctx)
	u.pin(in, f.Answer, f.Problem+f.Heard)
	return nil
}

func (u *setup) addRule(p wire.Port) {
	if rule := ruleFor(p); !slices.Contains(u.rules, rule) {
		u.rules = append(u.rules, rule)
	}
}

// write writes the configuration. It appears whole or not at all, and never in
// the place of another.
func (u *setup) write() error {
	err := paper.New(u.out, paper.Text(u.plan.yaml()))
	if err != nil {
		return fmt.Errorf("write %s: %w", u.out, err)
	}
	u.written = true
	u.say("\nwrote %s", u.out)
	return nil
}

// check is what `check --config` does.
func (u *setup) check() error {
	cfg, err := loadConfig(u.streams, u.out, nil)
	if err != nil {
		return err
	}
	fmt.Fprintf(u.streams.out, "%s is right: bench %s, %d %s, workspace %s\n", u.out, cfg.Bench, len(cfg.Instruments), plural(uint64(len(cfg.Instruments)), "instrument", "instruments"), cfg.Workspace)
	notes(u.streams, cfg)
	return nil
}
