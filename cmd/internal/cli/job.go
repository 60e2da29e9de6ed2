package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards"
)

func jobCommand(s streams) *cobra.Command {
	c := &cobra.Command{Use: "job", Short: "Open, list, show, annotate, move on and close jobs", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	dir := workspaceFlag(c)
	c.AddCommand(jobOpen(s, dir), jobList(s, dir), jobShow(s, dir), jobNote(s, dir), jobStage(s, dir), jobClose(s, dir), jobFiles(s, dir))
	c.AddCommand(jobEntries(s, dir)...)
	return c
}

func jobOpen(s streams, dir *string) *cobra.Command {
	var rails string
	var sheet capture.Sheet
	c := &cobra.Command{
		Use:   `open JOB --rails "+5 2%, +12 5%, -12 5%, 3.3 3%"`,
		Short: "Open a job with its rails in one line",
		Long: `Open a job with its rails in one line. A rail is nominal and tolerance, and a word if you
like: "+5 2% logic, -12 5% audio, 3.3 3% DSP". Say side=mains of one that is not isolated
from the mains: "+325 10% bulk side=mains". Bounds follow once and are kept. Everything but
the rails may come later. With --board FILE.yaml, or the name of a board that the workspace
keeps a sheet of, rails and sheet come from there: steadyrail boards --help.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if rails == "" && sheet.Board == "" {
				return noRails
			}
			d, err := daemon(*dir)
			if err != nil {
				return err
			}
			sheet.Job = args[0]
			return openJob(cmd.Context(), s, *dir, d, sheet, rails)
		},
	}
	f := c.Flags()
	f.StringVar(&rails, "rails", "", "the rails of the board, in one line")
	f.StringVar(&sheet.Set, "set", "", "what was brought: Alderbrook 88 stage piano")
	f.StringVar(&sheet.Board, "board", "", "board under repair: its name, or its sheet as FILE.yaml, which brings the rails along")
	f.StringVar(&sheet.SerialNumber, "serial", "", "serial number of the set")
	f.StringVar(&sheet.SerialNumber, "serial-number", "", "the same, as it was called before")
	_ = f.MarkHidden("serial-number")
	f.StringVar(&sheet.Customer, "customer", "", "whose it is")
	f.StringVar(&sheet.Symptom, "symptom", "", "what is wrong with it")
	f.StringVar(&sheet.Indication, "indication", "", "what the set says of itself; kept apart from evidence")
	f.StringVar(&sheet.Technician, "technician", "", "who works on it")
	return c
}

// openRequest is the body that opens a job: the sheet with the rails as a line.
func openRequest(sheet capture.Sheet, rails string) map[string]string {
	return map[string]string{
		"job": sheet.Job, "set": sheet.Set, "board": sheet.Board, "serial_number": sheet.SerialNumber, "customer": sheet.Customer,
		"symptom": sheet.Symptom, "indication": sheet.Indication, "technician": sheet.Technician, "rails": rails,
	}
}

// daemon returns the client of the daemon that holds the workspace.
func daemon(dir string) (*client, error) {
	b, err := openBench(dir)
	if err != nil {
		return nil, err
	}
	return b.must()
}

// told prints what an act came to.
func told(s streams, res dashboards.Result, err error) error {
	if err != nil {
		return err
	}
	if res.Job != "" && !strings.Contains(res.Say, res.Job) {
		res.Say = res.Job + ": " + res.Say // two jobs may be open
	}
	fmt.Fprintln(s.out, res.Say)
	return nil
}

func jobList(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "list", Short: "List the jobs of the workspace, newest first", Args: cobra.NoArgs}
	asJSON := jsonFlag(c)
	serial := c.Flags().String("serial", "", "only jobs of the set with this serial number")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		list, err := jobs(cmd.Context(), s, *dir)
		if err != nil {
			return err
		}
		if *serial != "" {
			list = slices.DeleteFunc(list, func(j dashboards.JobSummary) bool { return !app.SameSerial(j.SerialNumber, *serial) })
		}
		if *asJSON {
			return writeJSON(s.out, list)
		}
		if len(list) == 0 {
			s.say("no job yet")
		}
		w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
		for _, j := range list {
			state := "open"
			switch {
			case j.Closed != 0:
				state = "closed " + day(j.Closed)
			case j.Stage != "":
				state = "open, " + string(j.Stage)
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", j.Job, day(j.Opened), state, j.Set)
		}
		return w.Flush()
	}
	return c
}

func day(at capture.Instant) string {
	if at == 0 {
		return "-"
	}
	return at.Time().Local().Format("2006-01-02 15:04")
}

// jobs asks the daemon, or reads the index when none runs.
func jobs(ctx context.Context, s streams, dir string) ([]dashboards.JobSummary, error) {
	b, err := openBench(dir)
	if err != nil {
		return nil, err
	}
	if b.daemon != nil {
		var answer struct {
			Jobs []dashboards.JobSummary `json:"jobs"`
		}
		err := b.daemon.get(ctx, "/api/v1/jobs", &answer)
		return answer.Jobs, err
	}
	s.say("no daemon runs on %s: reading the files", dir)
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return nil, err
	}
	defer w.Close()
	list, err := w.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]dashboards.JobSummary, 0, len(list))
	for _, j := range list {
		out = append(out, dashboards.JobSummary{Job: j.Job, Set: j.Set, Board: j.Board, SerialNumber: j.SerialNumber, Symptom: j.Symptom, Opened: j.Opened, Closed: j.Closed})
	}
	return out, nil
}

func jobShow(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "show [JOB]", Short: "Show what the record says of a job",
		Long: "Show what the record says of a job: rails, stages, entries, alarms. Without a name it is the open job, of several the one opened last.",
		Args: cobra.MaximumNArgs(1),
	}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			id, err := newestOpen(cmd.Context(), s, *dir, "job show AB-0147")
			if err != nil {
				return err
			}
			args = []string{id}
		}
		return readJob(cmd.Context(), s, *dir, args[0], func(f *store.Job, b *job.Book) error {
			d, err := app.Dossier(cmd.Context(), f, b)
			if err != nil {
				return err
			}
			if *asJSON {
				return writeJSON(s.out, d)
			}
			showDossier(s, d, b)
			return nil
		})
	}
	return c
}

// newestOpen returns the open job, of several the one opened last; such
// is what names one instead.
func newestOpen(ctx context.Context, s streams, dir, such string) (string, error) {
	list, err := jobs(ctx, streams{out: s.out, err: io.Discard}, dir) // that no daemon runs is told once, of the file
	if err != nil {
		return "", err
	}
	for _, j := range list { // newest first
		if j.Closed == 0 {
			return j.Job, nil
		}
	}
	return "", usef("no job is open: say which one, such as steadyrail %s; all of them: steadyrail job list", such)
}

// onlyOpen returns the job that is named, or the one that is open. Where several
// are, nobody guesses.
func onlyOpen(ctx context.Context, s streams, dir string, named []string, such string) (string, error) {
	if len(named) > 0 {
		return named[0], nil
	}
	list, err := jobs(ctx, streams{out: s.out, err: io.Discard}, dir)
	if err != nil {
		return "", err
	}
	var open []string
	for _, j := range list {
		if j.Closed == 0 {
			open = append(open, j.Job)
		}
	}
	switch len(open) {
	case 0:
		return "", usef("%s: no job is open", such)
	case 1:
		return open[0], nil
	}
	return "", usef("%s: several jobs are open, %s: say which one, such as steadyrail %s %s", such, strings.Join(open, ", "), such, open[0])
}

// readJob opens a job's file for reading, also while a daemon writes it.
func readJob(ctx context.Context, s streams, dir, id string, f func(*store.Job, *job.Book) error) error {
	path, err := findJob(s, dir, id)
	if err != nil {
		return err
	}
	return foreign(app.ReadFile(ctx, path, f))
}

// findJob returns the path of a job's file, and says of a job of the workspace
// how far it is up to date. A job that is not there is wrong use, as it is when
// a daemon is asked.
func findJob(s streams, dir, id string) (string, error) {
	path := (&bench{dir: dir}).jobFile(id)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if path = besides(dir, id); path == "" {
			return "", usef("there is no job %s: %s", id, nowhere(dir, id))
		}
		s.say("%s is not here: taking %s", id, path)
	}
	if isFile(id) {
		return path, nil
	}
	switch _, err := store.ReadLock(dir); {
	case err == nil:
		s.say("a daemon runs on %s: what it measured in the last second may be missing", dir)
	case errors.Is(err, store.ErrNoDaemon):
		s.say("no daemon runs on %s: reading the file", dir)
	default:
		return "", err
	}
	return path, nil
}

// besides is where a file that is not here may be meant to be: among the jobs of
// the workspace. Empty when it is not there either.
func besides(dir, id string) string {
	if !isFile(id) || filepath.IsAbs(id) {
		return ""
	}
	path := filepath.Join(dir, "jobs", filepath.Base(id))
	if _, err := os.Stat(path); err != nil {
		return ""
	}
	return path
}

// nowhere says where a job was looked for, and what to do.
func nowhere(dir, id string) string {
	jobs := filepath.Join(dir, "jobs")
	if isFile(id) {
		return fmt.Sprintf("neither the file %s nor one of that name in %s exists; see: steadyrail job list", id, jobs)
	}
	return fmt.Sprintf("%s does not exist; see: steadyrail job list, or name a file that ends in %s", filepath.Join(jobs, id+store.Extension), store.Extension)
}

// foreign says what to do about a file that is none of a job's.
func foreign(err error) error {
	if errors.Is(err, store.ErrNotOurs) {
		return usef("%w; a job's record is JOB%s in the folder jobs of the workspace", err, store.Extension)
	}
	if errors.Is(err, store.ErrDamaged) {
		return judged(fmt.Errorf("%w; leave it as it is and take a backup of it, if there is one", err))
	}
	return err
}

// showDossier prints a job. Its rails have the numbers that enter takes.
func showDossier(s streams, d capture.Dossier, b *job.Book) {
	fmt.Fprintf(s.out, "%s  %s\n", d.Sheet.Job, d.Sheet.Set)
	if d.Sheet.Symptom != "" {
		fmt.Fprintf(s.out, "symptom: %s\n", d.Sheet.Symptom)
	}
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	now := capture.InstantOf(time.Now())
	for i, r := range d.Rails {
		said := slices.Concat(r.Before, r.After)
		for k, v := range said {
			if k >= len(r.Before) && slices.ContainsFunc(r.Before, func(b capture.Result) bool { return b.At == v.At && b.Quantity == v.Quantity }) {
				continue // as found, and not read again since
			}
			stage := string(v.Stage)
			if k < len(r.Before) {
				stage += ", as found"
			}
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\n", i+1, r.Rail.Name, stage, v.Quantity.Unit().Text(v.Value, v.Resolution), v.Say)
		}
		typed, any := typedBeside(b, said, r.Rail.Name)
		switch {
		case any:
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\n", i+1, r.Rail.Name, stageAt(d, typed.At), readingText(typed.Reading), typedWords(b, r.Rail, typed, now))
		case len(said) == 0 && r.Dead != nil:
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s; ohms not measured\n", i+1, r.Rail.Name, r.Dead.Stage, r.Dead.Quantity.Unit().Text(r.Dead.Value, r.Dead.Resolution), r.Dead.Say)
		case len(said) == 0:
			fmt.Fprintf(w, "%d\t%s\t\t\tNot measured\n", i+1, r.Rail.Name)
		}
	}
	w.Flush()
	showVerdicts(s.out, d)
	showTrims(s.out, d.Rails)
	showCourse(s, d)
}

// untold says why nobody was told of an alarm; empty: somebody was.
func untold(a capture.AlarmStory) string {
	if why := a.Untold(); why != "" {
		return ", nobody told (" + why + ")"
	}
	return ""
}

// showCourse prints what was done and what was raised, in the order of time.
func showCourse(s streams, d capture.Dossier) {
	type line struct {
		at   capture.Instant
		text string
	}
	var course []line
	for _, e := range d.Entries {
		stage := string(e.Stage)
		if stage == "" {
			stage = "before the first stage"
		}
		course = append(course, line{e.At, stage + ": " + e.Text})
	}
	for _, a := range d.Alarms {
		course = append(course, line{a.Raised, "alarm" + untold(a) + ": " + a.Say})
	}
	slices.SortStableFunc(course, func(a, b line) int { return cmp.Compare(a.at, b.at) })
	for _, l := range course {
		fmt.Fprintf(s.out, "%s  %s\n", l.at.Time().Local().Format("15:04:05"), l.text)
	}
}

func jobNote(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "note TEXT", Short: "Add a note to a job", Args: cobra.ExactArgs(1)}
	id := jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActNote, Text: args[0]})
	}
	return c
}

// act sends an act of a job to the daemon and prints what it came to.
func act(ctx context.Context, s streams, dir, id string, a capture.Act) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	res, err := d.act(ctx, id, a)
	return told(s, res, err)
}

func jobStage(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use:   "stage STAGE",
		Short: "Enter a stage of the job",
		Long: `Enter a stage of the job: take-in, cold checks, isolate, live checks, stand-in, preset, trim, warm-up,
soak, sign-off. To skip some or to go back needs a reason:
  steadyrail job stage soak --why "rework, checked last week"`,
		Args: cobra.ExactArgs(1),
	}
	id := jobFlag(c)
	why := c.Flags().String("why", "", "reason, when stages are skipped or gone back to")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		stage := stageNamed(args[0])
		if !stage.Known() {
			return usef("there is no stage %q: use one of take-in, cold checks, isolate, live checks, stand-in, preset, trim, warm-up, soak, sign-off", args[0])
		}
		err := act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActStage, Stage: stage, Text: *why})
		if err != nil && *why == "" && strings.Contains(err.Error(), job.ErrNeedsReason.Error()) {
			err = usef(`%w: add --why "..."`, err)
		}
		return err
	}
	return c
}

func jobClose(s streams, dir *string) *cobra.Command {
	return &cobra.Command{
		Use: "close [JOB]", Short: "Close a job, the open one or JOB: nothing more is recorded in it", Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := onlyOpen(cmd.Context(), s, *dir, args, "job close")
			if err != nil {
				return err
			}
			return act(cmd.Context(), s, *dir, id, capture.Act{Verb: capture.ActClose})
		},
	}
}
