package cli

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// timeTyped is a time as people copy or type it: with or without its day and zone,
// and as short as they like.
var timeTyped = regexp.MustCompile(`^(?:(\d{4}-\d\d-\d\d)[T ])?(\d\d:\d\d(?::\d\d(?:[.,]\d{1,9})?)?)(Z|[+-]\d\d:?\d\d)?$`)

// moment is such a time: what it leaves open matches.
type moment struct {
	layout, want string // of what was typed
	zone         *time.Location
	lasts        time.Duration // what it leaves open at its end
}

// when understands such a time. Without a zone it is this computer's.
func when(text string, here *time.Location) (moment, bool) {
	parts := timeTyped.FindStringSubmatch(strings.TrimSpace(text))
	if parts == nil {
		return moment{}, false
	}
	m := moment{layout: "15:04:05.000000", want: strings.Replace(parts[2], ",", ".", 1), zone: here, lasts: time.Minute}
	if parts[3] != "" {
		t, err := time.Parse("Z07:00", parts[3])
		if err != nil {
			if t, err = time.Parse("Z0700", parts[3]); err != nil {
				return moment{}, false
			}
		}
		m.zone = t.Location()
	}
	if _, fraction, _ := strings.Cut(m.want, "."); len(fraction) > 6 { // the record has microseconds
		m.want = m.want[:len(m.want)-len(fraction)+6]
	}
	if len(m.want) > len("15:04") {
		m.lasts = time.Second
	}
	if parts[1] != "" {
		m.layout, m.want = dayLayout+m.layout, parts[1]+"T"+m.want
	}
	_, err := time.Parse(m.layout[:len(m.want)], m.want)
	return m, err == nil
}

const dayLayout = "2006-01-02T"

func (m moment) match(at capture.Instant) bool {
	return strings.HasPrefix(at.Time().In(m.zone).Format(m.layout), m.want)
}

// within lists the stretches of a record that it can lie in: one, or one a day.
func (m moment) within(first, last capture.Instant) (out []capture.Gap) {
	typed, _ := time.ParseInLocation(m.layout[:len(m.want)], m.want, m.zone)
	day, until := typed, typed
	if !strings.HasPrefix(m.layout, dayLayout) {
		day, until = first.Time().In(m.zone).AddDate(0, 0, -1), last.Time().In(m.zone).AddDate(0, 0, 1)
	}
	for ; !day.After(until); day = day.AddDate(0, 0, 1) {
		at := time.Date(day.Year(), day.Month(), day.Day(), typed.Hour(), typed.Minute(), typed.Second(), 0, m.zone)
		from, to := at, at.Add(m.lasts)
		if offset(at.Add(-aDay)) != offset(at.Add(aDay)) { // the clocks change: it may be there twice, or not
			from, to = from.Add(-aDay), to.Add(aDay)
		}
		g := capture.Gap{From: max(first, capture.InstantOf(from)), To: min(last+1, capture.InstantOf(to))}
		switch n := len(out); {
		case g.From >= g.To:
		case n > 0 && g.From <= out[n-1].To:
			out[n-1].To = max(out[n-1].To, g.To)
		default:
			out = append(out, g)
		}
	}
	return out
}

const aDay = 24 * time.Hour

func offset(t time.Time) int {
	_, seconds := t.Zone()
	return seconds
}

// mostListed is how many readings that match are listed.
const mostListed = 12

const recordExample = "dmm/volts@2031-03-12T10:00:00.000200+01:00, or as short as dmm/volts@10:00:00"

// seq is the number of the record that --record means. Of several that match it
// lists them, for one to be taken.
func (v *verifying) seq(ctx context.Context, f *store.Job) (int64, error) {
	if n, err := strconv.ParseInt(v.record, 10, 64); err == nil {
		return n, nil
	}
	channel, text, _ := strings.Cut(v.record, "@")
	typed, ok := when(text, time.Local)
	if !ok {
		return 0, usef("--record %q: a number, or channel@time such as %s", v.record, recordExample)
	}
	var first int64
	var lines []string
	n := 0
	list := func(seq int64, at capture.Instant, r capture.Reading) bool {
		if n++; n == 1 {
			first = seq
		}
		if n <= mostListed {
			lines = append(lines, fmt.Sprintf("  %d  %s  %s", seq, at, readingSaid(r)))
		}
		return n <= mostListed
	}
	err := typed.find(ctx, f, capture.ChannelID(channel), list)
	switch {
	case err != nil:
		return 0, err
	case n == 0:
		return 0, usef("job %s: %w: a reading of %s answered at %s; take channel and time from the export", f.ID(), store.ErrNoRecord, channel, text)
	case n == 1:
		return first, nil
	case n > mostListed:
		lines = append(lines, "  and more: say more of the time")
	}
	return 0, usef("--record %q means more than one reading; take one by its number:\n%s", v.record, strings.Join(lines, "\n"))
}

// find yields the readings of a channel that are meant, until yield returns false.
func (m moment) find(ctx context.Context, f *store.Job, channel capture.ChannelID, yield func(int64, capture.Instant, capture.Reading) bool) error {
	var first capture.Instant
	err := f.Records(ctx, 0, 0, func(rec capture.Record) error {
		first = rec.At
		return errFirst
	})
	if err != nil && !errors.Is(err, errFirst) {
		return err
	}
	last, err := f.Upto(ctx)
	if err != nil {
		return err
	}
	enough := false
	for _, g := range m.within(first, last) {
		err := f.FindAll(ctx, channel, g.From, g.To, m.match, func(seq int64, at capture.Instant, r capture.Reading) bool {
			enough = !yield(seq, at, r)
			return !enough
		})
		if err != nil || enough {
			return err
		}
	}
	return nil
}

// errFirst ends a walk at its first record.
var errFirst = errors.New("the first is all that is asked for")

// readingSaid is what a reading showed.
func readingSaid(r capture.Reading) string {
	if !r.HasValue() {
		return "no value"
	}
	return r.Quantity.Unit().Text(r.Value, r.Resolution)
}
