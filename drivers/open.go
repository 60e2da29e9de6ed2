package drivers

import (
	"context"
	"errors"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// What happens to a supply's output at the end.
const (
	ExitLeave = "leave"
	ExitOff   = "off"
)

// Config is an instrument of a bench.
type Config struct {
	Name           string // before the slash of its channels
	Model          string
	Link           string           // see wire.ParseAddress
	Expect         capture.Identity // what is empty is not compared
	Isolation      capture.Isolation
	CalibrationDue string        // 2027-03-01; empty: not stated
	Every          time.Duration // 0: as the model says
	Acts           []string      // "output", "limits"; none: read only
	OnExit         string        // "leave" or "off"; needed where Acts has "output"
	Record         string        // file for all that goes over the wire, numbered anew with each connection; empty: none
	Simulated      bool
	Transforms     []Transform // channels computed from others
	Latest         Lookup      // the bench's newest readings, for cold junctions; nil: there are none
}

// instrumentName is what can stand before the slash of a channel's ID.
var instrumentName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]*$`)

// build is what a dialect makes an instrument from.
type build struct {
	cfg   Config
	model Model
	info  capture.InstrumentInfo
	dial  wire.Dial
	baud  int
}

// Open makes an instrument with a connection of its own. Nothing is opened
// before Connect. Errors wrap [ErrConfig] and hold every mistake.
func Open(cfg Config, models Models) (Instrument, error) {
	return new(Links).Open(cfg, models)
}

// Open makes an instrument that shares its connection with the others of these
// links at the same place.
func (l *Links) Open(cfg Config, models Models) (Instrument, error) {
	b, err := prepare(cfg, models)
	if err != nil {
		return nil, err
	}
	address, _ := wire.ParseAddress(cfg.Link) // prepare has read it
	if address.Kind == wire.KindSerial || address.Kind == wire.KindUSB || address.Kind == wire.KindHID {
		b.baud = wire.DefaultLine().With(b.model.Line).With(address.Line).Baud
	}
	b.dial = recorded(cfg, func(ctx context.Context) (wire.Link, error) {
		return l.dial(ctx, address, b.model.Line, b.model.Select)
	})
	return b.open()
}

// open makes the instrument with the channels that are computed. Nothing is
// opened on the link.
func (b build) open() (Instrument, error) {
	in, err := dialects[b.model.Dialect].open(b)
	if err != nil {
		return nil, err
	}
	return transformed(in, b.cfg)
}

// Check returns what is wrong with a configuration, without opening anything.
// The error wraps [ErrConfig] and holds every mistake.
func Check(cfg Config, models Models) error {
	b, err := prepare(cfg, models)
	if err == nil && len(cfg.Transforms) > 0 {
		_, err = b.open()
	}
	return err
}

// prepare checks a configuration against its model.
func prepare(cfg Config, models Models) (build, error) {
	var all []error
	wrong := func(format string, args ...any) {
		all = append(all, fmt.Errorf("%w: instrument %q: "+format, append([]any{ErrConfig, cfg.Name}, args...)...))
	}
	if !instrumentName.MatchString(cfg.Name) {
		wrong("name: want a letter, then letters, digits, hyphens and underscores")
	}
	model, ok := models[cfg.Model]
	if !ok {
		wrong("model %q is not known: use one of %s, or put a file of your own into the models folder", cfg.Model, strings.Join(models.Names(), ", "))
	}
	address, err := wire.ParseAddress(cfg.Link)
	if link := dialects[model.Dialect].link; err == nil && ok && link != nil {
		err = link(&model, address)
	}
	if err != nil {
		wrong("link: %w", err)
	}
	for _, a := range cfg.Acts {
		if ok && !slices.Contains(model.Acts(), a) {
			wrong("acts: model %s has no %q: it has %s", cfg.Model, a, orNone(model.Acts()))
		}
	}
	switch {
	case cfg.OnExit != "" && cfg.OnExit != ExitLeave && cfg.OnExit != ExitOff:
		wrong("on_exit: %q: want leave or off", cfg.OnExit)
	case cfg.OnExit == ExitOff && ok && !switches(model):
		wrong("on_exit: model %s has no output", cfg.Model)
	case cfg.OnExit == "" && (slices.Contains(cfg.Acts, string(capture.ActOutput)) || slices.Contains(cfg.Acts, string(capture.ActInput))):
		wrong("on_exit is missing: say whether the output is left or goes off when steadyrail stops")
	}
	if cfg.Every < 0 {
		wrong("every: must be more than nothing")
	}
	if cfg.CalibrationDue != "" {
		if _, err := time.Parse(time.DateOnly, cfg.CalibrationDue); err != nil {
			wrong("calibration_due: %q is no date such as 2027-03-01", cfg.CalibrationDue)
		}
	}
	return build{cfg: cfg, model: model, info: infoOf(cfg, model)}, errors.Join(all...)
}

func infoOf(cfg Config, model Model) capture.InstrumentInfo {
	return capture.InstrumentInfo{
		Name: cfg.Name, Model: cfg.Model, Title: model.Title, Link: cfg.Link, Isolation: cfg.Isolation,
		CalibrationDue: cfg.CalibrationDue, Simulated: cfg.Simulated, Acts: slices.Clone(cfg.Acts), AutoOff: model.AutoOff,
	}
}

// switches reports whether there is something to switch off at the end.
func switches(m Model) bool {
	acts := m.Acts()
	return slices.Contains(acts, string(capture.ActOutput)) || slices.Contains(acts, string(capture.ActInput))
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}

// recorded wraps a dial so that everything on the link is written down. A new
// recording begins with each connection, in a file of its own.
func recorded(cfg Config, dial wire.Dial) wire.Dial {
	if cfg.Record == "" {
		return dial
	}
	return func(ctx context.Context) (wire.Link, error) {
		link, err := dial(ctx)
		if err != nil {
			return nil, err
		}
		file, err := nextFile(cfg.Record)
		if err != nil {
			_ = link.Close() // the cause is err
			return nil, fmt.Errorf("record the wire: %w", err)
		}
		return &recording{Recorder: wire.NewRecorder(link, file), file: file}, nil
	}
}

// recording closes its file with the link.
type recording struct {
	*wire.Recorder
	file *os.File
}

func (r *recording) Close() error {
	return errors.Join(r.Recorder.Close(), r.Err(), r.file.Close())
}

func (r *recording) Abandon() error {
	return errors.Join(r.Recorder.Abandon(), r.Err(), r.file.Close())
}

// nextFile creates the file, or the same name with a number when it is there:
// a recording is never overwritten.
func nextFile(name string) (*os.File, error) {
	try := name
	for i := 2; ; i++ {
		f, err := os.OpenFile(try, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if !errors.Is(err, os.ErrExist) || i > 10_000 {
			return f, err
		}
		try = fmt.Sprintf("%s.%d", name, i)
	}
}
