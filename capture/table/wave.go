package table

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"steadyrail/capture"
)

// MaxWave is how many samples a wave may have: they are held in memory.
const MaxWave = 2_000_000

// MaxWaveFile is the longest file of a wave, in bytes.
const MaxWaveFile = 64 << 20

// Wave is one channel of an oscilloscope's capture. Its times are seconds from
// the trigger and keep what the file gives: a record's microseconds are too
// coarse for them.
type Wave struct {
	Column     string // the name of the channel in the file
	Unit       capture.Unit
	Times      []float64 // s, strictly increasing
	Values     []float64 // base unit of Unit
	Resolution float64   // base unit, the coarsest count of the values
}

// ReadWave reads one channel of a capture. column names it, by name or number;
// it may be empty when the file has one column of volts. The error wraps
// [ErrUnclear] when something must be said, and is a [*BadRows] when rows cannot
// be taken: one without a number, or out of order, is one of those, for a wave
// with holes has no shape.
func ReadWave(ctx context.Context, data []byte, column string, o Options) (Wave, error) {
	if len(data) > MaxWaveFile {
		return Wave{}, unclear("the file is longer than %d MB: save fewer samples", MaxWaveFile>>20)
	}
	o.Take = nil
	if column != "" {
		o.Take = []Take{{Column: column, Channel: "import/wave"}}
	}
	o.Start = "1970-01-02T00:00:00Z" // a wave counts from its trigger: no file need say when that was
	l, err := Understand(bytes.NewReader(data), o)
	if err != nil {
		return Wave{}, err
	}
	at, err := l.waveColumn()
	if err != nil {
		return Wave{}, err
	}
	in, _, err := decode(bytes.NewReader(data), l.Encoding)
	if err != nil {
		return Wave{}, fmt.Errorf("read: %w", err)
	}
	w := &waving{reading: reading{l: l, s: newScanner(in, l.Separator), taken: []int{at}}}
	w.wave = Wave{Column: l.Columns[at].Name, Unit: l.Columns[at].Quantity.Unit()}
	return w.all(ctx)
}

// waveColumn is the one column that is taken.
func (l *Layout) waveColumn() (int, error) {
	switch l.Clock.Kind {
	case ByElapsed, ByIndex, ByRow:
	default:
		return 0, unclear("its times are times of day: a wave counts seconds from a trigger")
	}
	var volts []int
	taken := l.Taken()
	for _, i := range taken {
		if l.Columns[i].Quantity == capture.DCVoltage {
			volts = append(volts, i)
		}
	}
	switch {
	case len(volts) == 1:
		return volts[0], nil
	case len(taken) == 1:
		return taken[0], nil
	case len(taken) == 0:
		return 0, unclear("no column has a unit that is known: name the one of the rail (%s)", l.list())
	}
	return 0, unclear("several columns could be the rail: name one (%s)", l.list())
}

// waving is one run through the file of a wave.
type waving struct {
	reading
	wave Wave
}

func (w *waving) all(ctx context.Context) (Wave, error) {
	for n := 0; ; n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return Wave{}, ctx.Err()
		}
		rec, err := w.s.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return Wave{}, fmt.Errorf("read behind line %d: %w", rec.line, err)
		}
		if len(w.wave.Times) > MaxWave {
			return Wave{}, unclear("it has more than %d samples: save fewer", MaxWave)
		}
		if rec.bad != "" && (rec.last || rec.line >= w.l.FirstLine) {
			w.bad.add(rec.line, "%s", rec.bad)
		} else if rec.line >= w.l.FirstLine && !rec.blank() {
			w.sample(rec)
		}
		if rec.last {
			w.bad.Ended = true
			break
		}
	}
	if w.bad.Count == 0 && len(w.wave.Times) == 0 {
		return Wave{}, unclear("no row has a value")
	}
	return w.wave, w.bad.orNil()
}

// sample takes a row of two numbers, its time and its value.
func (w *waving) sample(rec record) {
	w.tally.Rows++
	width := len(w.l.Columns)
	if n := len(rec.cells); n != width && (n != width+1 || rec.cells[width] != "") {
		w.bad.misfit(rec.line, n, w.l)
		return
	}
	t, why := w.second(rec.cells)
	w.row.Values = w.row.Values[:0]
	if why == "" {
		why = w.value(w.taken[0], rec.cells[w.taken[0]])
	}
	n := len(w.wave.Times)
	switch {
	case why != "":
	case len(w.row.Values) == 0:
		why = "there is no value"
	case w.row.Values[0].Flags != 0:
		why = quoted(rec.cells[w.taken[0]]) + ": there is no number; the capture left the screen, take it again with a coarser range"
	case n > 0 && t <= w.wave.Times[n-1]:
		why = fmt.Sprintf("its time %g s does not lie after that of the row above, %g s", t, w.wave.Times[n-1])
	}
	if why != "" {
		w.bad.add(rec.line, "%s", why)
		return
	}
	v := w.row.Values[0]
	w.wave.Times, w.wave.Values = append(w.wave.Times, t), append(w.wave.Values, v.Value)
	w.wave.Resolution = max(w.wave.Resolution, v.Resolution)
}

// second is the time of a row, in seconds.
func (w *waving) second(cells []string) (t float64, why string) {
	c := &w.l.Clock
	if c.Kind == ByRow {
		return float64(float64(w.tally.Rows-1) * c.Interval), ""
	}
	f, why := w.figure(cells[c.Column])
	if why != "" {
		return 0, why
	}
	v, _, ok := f.value(0)
	unit := c.times
	if c.Kind == ByIndex {
		unit = c.Interval
	}
	if t = float64(v * unit); !ok || math.Abs(t) > float64(24*time.Hour/time.Second) {
		return 0, quoted(cells[c.Column]) + " is no time of a capture"
	}
	return t, ""
}
