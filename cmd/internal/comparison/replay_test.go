package comparison

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/rules"
)

// BenchmarkReplayLargeJob judges a stored job again: STEADYRAIL_SCALE million
// readings (2 when it is not set) of eight clipped channels on four rails, with
// the rules that follow from the rails. Target: 20 million within 30 s. "reading"
// is the part that the store takes of it.
func BenchmarkReplayLargeJob(b *testing.B) {
	millions, err := strconv.Atoi(os.Getenv("STEADYRAIL_SCALE"))
	if err != nil {
		millions = 2
	}
	n := millions * 1_000_000
	if testing.Short() {
		n = 200_000
	}
	w, err := store.OpenWorkspace(b.TempDir(), store.Options{CommitEvery: time.Hour})
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	j, upto := largeJob(b, w, n)
	records := func(yield func(capture.Record) error) error { return j.Records(b.Context(), 0, 0, yield) }
	b.Run("reading", func(b *testing.B) {
		for b.Loop() {
			if err := records(func(capture.Record) error { return nil }); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
	})
	b.Run("judging", func(b *testing.B) {
		for b.Loop() {
			if _, err := rules.Replay(b.Context(), records, upto); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
	})
}

// largeJob records n readings, ten a second from each channel.
func largeJob(b *testing.B, w *store.Workspace, n int) (*store.Job, capture.Instant) {
	rails, err := capture.ParseRails("+5V 2%, +12V 5%, -12V 5%, +3.3V 3%")
	if err != nil {
		b.Fatal(err)
	}
	sheet := capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88", Rails: rails}
	j, err := w.Create(sheet)
	if err != nil {
		b.Fatal(err)
	}
	at := capture.InstantOf(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	put := func(item capture.Item) {
		at++
		j.Consume(capture.Record{At: at, Job: sheet.Job, Item: item})
	}
	var roster capture.Roster
	for c := range 8 {
		name := "dmm" + strconv.Itoa(c)
		roster.Instruments = append(roster.Instruments, capture.InstrumentInfo{Name: name, Channels: []capture.ChannelInfo{
			{ID: capture.ChannelID(name + "/volts"), Quantity: capture.DCVoltage, Every: 100 * time.Millisecond}}})
	}
	put(sheet)
	put(roster)
	put(capture.RuleSet{Rules: rules.Implied(sheet, roster), Engine: rules.Version})
	put(capture.Act{Verb: capture.ActOpen})
	for c, in := range roster.Instruments {
		put(capture.Placement{Channel: in.Channels[0].ID, Rail: rails[c%len(rails)].Name, Hold: capture.Clipped})
	}
	noise := rand.New(rand.NewPCG(88, 1))
	for i := range n {
		at += 12_500 - 1
		c := i % len(roster.Instruments)
		v := math.Round((rails[c%len(rails)].Nominal+noise.NormFloat64()*0.0003)*1e5) / 1e5
		r := capture.Reading{Channel: roster.Instruments[c].Channels[0].ID, Quantity: capture.DCVoltage, Value: v,
			Text: strconv.FormatFloat(v, 'f', 5, 64), Resolution: 1e-5, Range: 20, Measured: at - 21_500, HalfWidth: 1500 * time.Microsecond, Ordinal: uint64(i/8 + 1)}
		put(r)
		if i%8000 == 7999 || i == n-1 {
			if err := j.Sync(context.Background()); err != nil {
				b.Fatal(err)
			}
		}
	}
	return j, at
}
