package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
)

// handModel is the model of whatever is read by a person.
const handModel = "hand"

// handEntry describes hand entry in the roster.
func handEntry() capture.InstrumentInfo {
	return capture.InstrumentInfo{Name: capture.ByEyeName(""), Model: handModel, Title: "values read by eye and typed"}
}

// Enter records a value that was read from a display and typed, or files an
// earlier one under another rail.
func (a *App) Enter(ctx context.Context, id string, t dashboards.Typed) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	if t.By == "" {
		t.By = j.book.Sheet().Technician
	}
	rail, err := j.book.Sheet().FindRail(t.Rail)
	if err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("enter %s in job %s", t.Text, j.id), Err: err}
	}
	if t.InsteadOf != "" {
		return a.refile(j, t, rail)
	}
	if err := checkMeter(t.Meter); err != nil {
		return dashboards.Result{}, err
	}
	reading, err := a.typedReading(j, t)
	if err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "enter a value for " + rail.Name, Err: err, Hint: howToWrite(err)}
	}
	if err := a.doubt(id, j, t, rail, reading); err != nil {
		return dashboards.Result{}, err
	}
	if err := a.mayHaveStood(j, t, rail, reading.Quantity); err != nil {
		return dashboards.Result{}, err
	}
	ch := capture.ByEyeChannel(t.Meter, reading.Quantity, j.id)
	reading.Channel = ch
	point := t.Point
	if point == "" {
		point = rail.Point
	}
	var items []capture.Item
	if roster, news := a.meterNamed(j, t.Meter, ch, reading.Quantity); news {
		items = append(items, roster)
	}
	items = append(items,
		capture.Placement{Channel: ch, Rail: rail.Name, Point: point, By: t.By, Why: readFrom(t.Meter)},
		reading,
		capture.Placement{Channel: ch})
	ats, err := a.bus.PostAll(j.id, items...)
	if err != nil {
		return dashboards.Result{}, problem("enter a value for "+rail.Name, err)
	}
	at := ats[len(ats)-2]
	say := fmt.Sprintf("%s: %s, %s.", rail.Name, shown(reading), readFrom(t.Meter))
	return dashboards.Result{Job: j.id, At: at, Say: say + a.judgedAs(j, rail, at, reading) + a.durable(ctx, j)}, nil
}

// refile moves the newest value that was read by eye on a rail to another one.
// Nothing is taken back: the reading stands as it was typed, and the record says
// where it was filed first.
func (a *App) refile(j *openJob, t dashboards.Typed, to capture.Rail) (dashboards.Result, error) {
	from, err := j.book.Sheet().FindRail(t.InsteadOf)
	what := "correct a value read by eye"
	switch {
	case err != nil:
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what, Err: err}
	case t.Text != "":
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: what + ": it moves the value that is there, and takes no other", Hint: "enter a new value without the rail it is instead of"}
	case from.Name == to.Name:
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: what + ": it is on " + to.Name + " already"}
	}
	r, placed, ok := newestByEye(j.book, from.Name)
	if !ok {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": no value that was read by eye is on " + from.Name}
	}
	at, err := a.bus.Post(j.id, capture.Placement{Channel: r.Reading.Channel, Rail: to.Name, Point: to.Point, By: t.By, Corrects: placed, Why: t.Why})
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	meter, _ := r.Reading.Channel.ByEyeMeter()
	say := fmt.Sprintf("Moves %s (%s, %s) from %s to %s; both stay in the record.", shown(r.Reading), readFrom(meter), r.At.Time().Local().Format("15:04"), from.Name, to.Name)
	return dashboards.Result{Job: j.id, At: at, Say: say + a.judgedAs(j, to, r.At, r.Reading)}, nil
}

// newestByEye finds the newest value read by eye that belongs to a rail by now,
// and the instant of the placement that put it there.
func newestByEye(b *job.Book, rail string) (job.Reading, capture.Instant, bool) {
	all := b.Typed()
	for i := len(all) - 1; i >= 0; i-- {
		r := all[i]
		if r.Rail != rail {
			continue
		}
		spans := b.Placements().Spans(rail)
		at := slices.IndexFunc(spans, func(s capture.Span) bool {
			return s.Channel == r.Reading.Channel && s.From <= r.At && (s.To == 0 || r.At < s.To)
		})
		if at >= 0 {
			return r, spans[at].From, true
		}
	}
	return job.Reading{}, 0, false
}

func shown(r capture.Reading) string {
	if !r.HasValue() {
		return "over range"
	}
	return r.Quantity.Unit().Text(r.Value, r.Resolution)
}

// readByEye is how far the moment of looking may lie from that of typing
// (common practice: within ten seconds).
const readByEye = 10 * time.Second

func readFrom(meter string) string {
	if meter == "" {
		return "read by eye"
	}
	return "read by eye from " + meter
}

// typedQuantities are tried in this order on a value whose unit is not typed:
// the first that takes it.
var typedQuantities = []capture.Quantity{capture.DCVoltage, capture.Resistance, capture.DCCurrent, capture.Temperature, capture.Power}

// typedReading reads the text in the quantity's unit; without a quantity, in the
// first unit that takes it.
func (a *App) typedReading(j *openJob, t dashboards.Typed) (capture.Reading, error) {
	r := capture.Reading{Flags: capture.Typed | capture.ByEye, Measured: a.clock.Now(), HalfWidth: readByEye}
	if unit, flag, ok := overRange(t.Text); ok {
		var err error
		r.Flags |= flag
		r.Quantity, err = overWhat(j, t.Quantity, unit)
		return r, err
	}
	try := typedQuantities
	if t.Quantity != capture.NoQuantity {
		try = []capture.Quantity{t.Quantity}
	}
	var first error
	for _, q := range try {
		v, res, err := q.Unit().ParseTyped(t.Text, a.o.Config.Decimal)
		if err == nil {
			r.Quantity, r.Value, r.Resolution, r.Text = q, v, res, typedText(v, res)
			return r, nil
		}
		var two *capture.Ambiguous
		if first == nil || errors.As(err, &two) {
			first = err
		}
	}
	return r, first
}

// overWords are what displays show above their range.
var overWords = []string{"OVERLOAD", "OVLD", "OFL", "O.L", "0.L", ".OL", "OL", "0L"}

// overRange reads "OL", "-OL", "0L Mohm". The unit is what stands behind.
func overRange(text string) (unit string, flag capture.Flags, ok bool) {
	s := strings.TrimSpace(text)
	flag = capture.OverRange
	if rest, minus := strings.CutPrefix(strings.Replace(s, capture.MinusSign, "-", 1), "-"); minus {
		s, flag = strings.TrimSpace(rest), capture.UnderRange
	}
	for _, w := range overWords {
		if len(s) >= len(w) && strings.EqualFold(s[:len(w)], w) {
			return strings.TrimSpace(s[len(w):]), flag, true
		}
	}
	return "", 0, false
}

// overWhat finds the quantity of a display that shows no figure. Without power
// on the board it can only be ohms; otherwise nobody can tell, and it is asked.
func overWhat(j *openJob, q capture.Quantity, unit string) (capture.Quantity, error) {
	if unit != "" {
		for _, q := range typedQuantities {
			if _, _, err := q.Unit().ParseTyped("1 "+unit, capture.Point); err == nil {
				return q, nil
			}
		}
		return q, fmt.Errorf("%w: %q is no unit of a display; write OL V or OL ohm", capture.ErrNotANumber, unit)
	}
	if q != capture.NoQuantity {
		return q, nil
	}
	if stage, _ := j.book.Stage(); stage.Live() {
		return q, fmt.Errorf("%w: OL may be of volts or of ohms; type OL V for the one and OL ohm for the other", capture.ErrNotANumber)
	}
	return capture.Resistance, nil
}

func howToWrite(err error) string {
	var two *capture.Ambiguous
	if errors.As(err, &two) || errors.Is(err, capture.ErrNotANumber) && strings.Contains(err.Error(), "; type") || strings.Contains(err.Error(), "; write") {
		return ""
	}
	return "write it like 5.02, 0.84 ohm or OL"
}

// typedText writes a typed value as the record keeps digits: base unit, with
// the decimals that were typed.
func typedText(v, resolution float64) string {
	return strconv.FormatFloat(v, 'f', capture.Decimals(resolution, v), 64)
}
