package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/cmd/internal/app"
)

// importing is one use of `import`.
type importing struct {
	sheet                                     capture.Sheet
	rails                                     string
	take, on                                  []string
	separator, decimal, encoding, zone, dates string
	time, start, interval                     string
	sort, show                                bool
	workspace                                 string
}

func importCommand(s streams) *cobra.Command {
	var im importing
	c := &cobra.Command{
		Use:   "import FILE --job JOB",
		Short: "Make a job of a CSV file of a logger or an oscilloscope",
		Long: `Make a job of a CSV file from elsewhere, a logger's or an oscilloscope's. Look first:
  steadyrail import capture.csv --show
says how the file is understood: separator, decimal sign, lines before the header, header,
units, time, what each column is taken as, the first rows. It writes nothing. What could be
read in two ways is refused with the option that decides it. Then, for example,
  steadyrail import capture.csv --job SCOPE-1 --start 2031-03-12T10:00:00Z \
    --take 'CH1=scope/volts' --rails '+5 2% logic' --on 'scope/volts=+5 V logic'
The whole file is read before anything is written. Every row that cannot be taken is told
with its line, and then there is no job. The new job is closed: it says from which file it
came and that no rule judged it. Values of one row follow each other by a microsecond.

An export of this program (in either dialect) is known by its first line and needs no flag:
its readings are taken as they were, with their instants, places and digits. The job is
called like the file unless --job says otherwise.

It ends with 0 when the job is there, 1 when rows cannot be taken, 2 for wrong use or a file
that is not clear, 3 when the environment failed.`,
		Args: cobra.ExactArgs(1),
	}
	dir := workspaceFlag(c)
	f := c.Flags()
	f.StringVar(&im.sheet.Job, "job", "", "name of the new job")
	f.BoolVar(&im.show, "show", false, "say how the file is understood, and write nothing")
	f.StringArrayVar(&im.take, "take", nil, "column that is wanted, by name or number: 'CH1=scope/volts' or 'CH1=scope/volts:dc_voltage:mV'; without it all with a unit")
	f.StringVar(&im.time, "time", "", "column of the time, by name or number: 'Time', 'Time:ms', 'Date+Time', or row")
	f.StringVar(&im.start, "start", "", "when second 0 or the first sample was: 2031-03-12T10:00:00+01:00; for times of day, the date")
	f.StringVar(&im.interval, "interval", "", "time from sample to sample: '0.4 us'")
	f.StringVar(&im.zone, "zone", "local", "zone of times without an offset: local, UTC, +01:00 or a name")
	f.StringVar(&im.dates, "dates", "", "of dates such as 03/12/2031: day-first or month-first")
	f.StringVar(&im.separator, "separator", "", "comma, semicolon or tab")
	f.StringVar(&im.decimal, "decimal", "", "point or comma")
	f.StringVar(&im.encoding, "encoding", "", "utf-8, latin-1, utf-16le or utf-16be")
	f.BoolVar(&im.sort, "sort", false, fmt.Sprintf("rows may stand in any order; at most %d", table.MaxSorted))
	f.StringVar(&im.rails, "rails", "", "the rails of the board, in one line, as for job open")
	f.StringArrayVar(&im.on, "on", nil, "rail of a channel: 'scope/volts=+5 V logic'")
	f.StringVar(&im.sheet.Set, "set", "", "what was measured: Alderbrook 88 stage piano")
	f.StringVar(&im.sheet.Board, "board", "", "board under repair")
	f.StringVar(&im.sheet.Technician, "technician", "", "who imports it")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		im.workspace = *dir
		return refused(im.run(cmd, s, args[0]))
	}
	return c
}

// refused gives an import's error its exit code.
func refused(err error) error {
	var bad *table.BadRows
	var held *store.HeldError
	switch {
	case errors.As(err, &bad):
		return judged(err)
	case errors.As(err, &held):
		return fmt.Errorf("%w; stop the daemon for the import, or import into a folder of its own with --workspace", err)
	case errors.Is(err, table.ErrUnclear), errors.Is(err, store.ErrExists), errors.Is(err, capture.ErrJobID), errors.Is(err, fs.ErrNotExist):
		return use(err)
	}
	return err
}

func (im *importing) run(cmd *cobra.Command, s streams, path string) error {
	o, err := im.options()
	if err != nil {
		return use(err)
	}
	own, err := im.own(path, o)
	if err != nil {
		return err
	}
	if own != nil {
		return im.runOwn(cmd, s, path, own)
	}
	if im.sheet.Job == "" && !im.show {
		return usef("import: name the new job with --job, or look at the file first with --show")
	}
	l, err := understand(path, o)
	if err != nil {
		return err
	}
	if im.show {
		showLayout(s, filepath.Base(path), l)
		return nil
	}
	on, err := im.places(l)
	if err != nil {
		return use(err)
	}
	done, err := im.make(cmd, s, app.Import{Path: path, Layout: l, On: on})
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Job %s has %d values in %d rows from %s.\n", im.sheet.Job, done.Values, done.Rows, done.File)
	if l.Declared > 0 && l.Declared != done.Rows {
		s.say("the file says that it has %d rows, %d are there", l.Declared, done.Rows)
	}
	return nil
}

// make has the job made.
func (im *importing) make(cmd *cobra.Command, s streams, of app.Import) (app.Imported, error) {
	if holder, err := store.ReadLock(im.workspace); err == nil { // before a long file is read
		return app.Imported{}, &store.HeldError{Dir: im.workspace, PID: holder.PID, Address: holder.Address}
	}
	b := newBar(s, "", 0)
	of.Workspace, of.Sheet, of.Now, of.Version = im.workspace, im.sheet, capture.InstantOf(time.Now()), Version()
	of.Through = func(what string, size int64, r io.Reader) io.Reader {
		b.begin(what, size)
		return &byteCounter{r, b}
	}
	done, err := of.Run(cmd.Context())
	return done, b.finish(err)
}

type byteCounter struct {
	io.Reader
	b *bar
}

func (c *byteCounter) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.b.add(int64(n))
	return n, err
}

func understand(path string, o table.Options) (*table.Layout, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("import: %w", err)
	}
	defer f.Close()
	l, err := table.Understand(f, o)
	if err != nil {
		return nil, fmt.Errorf("import %s: %w", filepath.Base(path), err)
	}
	return l, nil
}

// options reads the words of the command line.
func (im *importing) options() (o table.Options, err error) {
	o = table.Options{Time: im.time, Start: im.start, Interval: im.interval, Sort: im.sort, Dates: table.DateOrder(im.dates)}
	if o.Separator, err = signNamed("separator", im.separator, map[string]byte{"": 0, "comma": ',', "semicolon": ';', "tab": '\t'}); err != nil {
		return o, err
	}
	if o.Decimal, err = signNamed("decimal", im.decimal, map[string]byte{"": 0, "point": '.', "comma": ','}); err != nil {
		return o, err
	}
	if o.Dates != "" && o.Dates != table.DayFirst && o.Dates != table.MonthFirst {
		return o, fmt.Errorf("--dates is day-first or month-first, not %q", im.dates)
	}
	if o.Encoding, err = table.ParseEncoding(im.encoding); err != nil {
		return o, fmt.Errorf("--encoding: %w", err)
	}
	if o.Zone, err = table.ParseZone(im.zone); err != nil {
		return o, fmt.Errorf("--zone: %w; an offset such as +01:00 is always understood", err)
	}
	for _, t := range im.take {
		take, err := table.ParseTake(t)
		if err != nil {
			return o, fmt.Errorf("--take: %w", err)
		}
		o.Take = append(o.Take, take)
	}
	return o, nil
}

func signNamed(flag, word string, of map[string]byte) (byte, error) {
	b, ok := of[word]
	if !ok {
		var names []string
		for _, n := range []string{"comma", "semicolon", "tab", "point"} {
			if _, ok := of[n]; ok {
				names = append(names, n)
			}
		}
		return 0, fmt.Errorf("--%s is one of %s, not %q", flag, strings.Join(names, ", "), word)
	}
	return b, nil
}

// places reads which channel was on which rail.
func (im *importing) places(l *table.Layout) (map[capture.ChannelID]string, error) {
	var err error
	if im.rails != "" {
		if im.sheet.Rails, err = capture.ParseRails(im.rails); err != nil {
			return nil, fmt.Errorf("--rails: %w", err)
		}
	}
	on := map[capture.ChannelID]string{}
	for _, p := range im.on {
		ch, name, _ := strings.Cut(p, "=")
		rail, err := im.sheet.FindRail(name)
		if err != nil {
			return nil, fmt.Errorf("--on %s: %w", p, err)
		}
		var have []string
		for _, i := range l.Taken() {
			c := l.Columns[i].Channel
			have = append(have, string(c))
			if string(c) == ch {
				on[c] = rail.Name
			}
		}
		if _, ok := on[capture.ChannelID(ch)]; !ok {
			return nil, fmt.Errorf("--on %s: there is no channel %q: %s", p, ch, strings.Join(have, ", "))
		}
	}
	return on, nil
}
