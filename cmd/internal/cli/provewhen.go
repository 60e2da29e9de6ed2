package cli

import (
	"context"
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

// when understands such a time: what it leaves open matches. Without a zone it is
// this computer's.
func when(text string, here *time.Location) (match func(capture.Instant) bool, ok bool) {
	parts := timeTyped.FindStringSubmatch(strings.TrimSpace(text))
	if parts == nil {
		return nil, false
	}
	zone := here
	if parts[3] != "" {
		t, err := time.Parse("Z07:00", parts[3])
		if err != nil {
			if t, err = time.Parse("Z0700", parts[3]); err != nil {
				return nil, false
			}
		}
		zone = t.Location()
	}
	layout, want := "15:04:05.000000", strings.Replace(parts[2], ",", ".", 1)
	if _, fraction, _ := strings.Cut(want, "."); len(fraction) > 6 { // the record has microseconds
		want = want[:len(want)-len(fraction)+6]
	}
	if parts[1] != "" {
		layout, want = "2006-01-02T"+layout, parts[1]+"T"+want
	}
	return func(at capture.Instant) bool { return strings.HasPrefix(at.Time().In(zone).Format(layout), want) }, true
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
	match, ok := when(text, time.Local)
	if !ok {
		return 0, usef("--record %q: a number, or channel@time such as %s", v.record, recordExample)
	}
	var first int64
	var lines []string
	n := 0
	err := f.FindAll(ctx, capture.ChannelID(channel), match, func(seq int64, at capture.Instant, r capture.Reading) bool {
		if n++; n == 1 {
			first = seq
		}
		if n <= mostListed {
			lines = append(lines, fmt.Sprintf("  %d  %s  %s", seq, at, readingSaid(r)))
		}
		return n <= mostListed
	})
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

// readingSaid is what a reading showed.
func readingSaid(r capture.Reading) string {
	if !r.HasValue() {
		return "no value"
	}
	return r.Quantity.Unit().Text(r.Value, r.Resolution)
}
