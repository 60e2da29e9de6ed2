package store

import (
	"path/filepath"
	"testing"

	"steadyrail/capture"
)

// BenchmarkIngest writes readings durably, 80 to a commit as a usual bench gives
// them in a second; [BenchmarkIngestMix] has the largest. "bare" is the baseline of
// the same run: a row for each reading, one INSERT each, without chain, summaries
// or queue.
func BenchmarkIngest(b *testing.B) {
	const per = 80
	b.Run("steadyrail", func(b *testing.B) {
		j := create(b, workspace(b, quick), "AB-0147")
		b.ResetTimer()
		for i := 0; b.Loop(); i++ {
			for k := range per {
				n := i*per + k
				j.Consume(volts(t0+capture.Instant(n*100), capture.ChannelID([]string{"a/volts", "b/volts", "c/volts", "d/volts"}[n%4]), 5+float64(n%100)*1e-5))
			}
			settle(b, j)
		}
		rate(b, per)
	})
	b.Run("bare", func(b *testing.B) { bare(b, per, "") })
}

func rate(b *testing.B, per int) {
	b.ReportMetric(float64(b.N*per)/b.Elapsed().Seconds(), "readings/s")
}

func bare(b *testing.B, per int, index string) {
	write := rowWriter(b, per, index)
	b.ResetTimer()
	for b.Loop() {
		write()
	}
	rate(b, per)
}

// rowWriter returns what writes the next commit of a row for each reading.
func rowWriter(b *testing.B, per int, index string) func() {
	db, err := openWriter(ctx, filepath.Join(b.TempDir(), "bare"), jobKind)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() }) // the file goes with it
	const table = "CREATE TABLE reading (seq INTEGER PRIMARY KEY, at INTEGER, channel INTEGER, value REAL, text TEXT, resolution REAL, range REAL, flags INTEGER, measured INTEGER, half_width INTEGER, ordinal INTEGER)"
	if _, err := db.Exec(table + ";" + index); err != nil {
		b.Fatal(err)
	}
	insert, err := db.Prepare("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)")
	if err != nil {
		b.Fatal(err)
	}
	n := int64(0)
	return func() {
		tx, err := db.Begin()
		if err != nil {
			b.Fatal(err)
		}
		st := tx.Stmt(insert)
		for range per {
			if _, err := st.Exec(n, n*100, n%4, 5+float64(n%100)*1e-5, "+5.0120E+00", 1e-4, 10.0, 0, n*100, 1, n); err != nil {
				b.Fatal(err)
			}
			n++
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
	}
}

// filled makes a job of three channels at 5 readings a second for the given
// hours.
func filled(b *testing.B, w *Workspace, hours int) *Job {
	j := create(b, w, "AB-0147")
	for i := range hours * 3600 * 15 {
		j.Consume(volts(t0+capture.Instant(i)*second/15, capture.ChannelID([]string{"a/volts", "b/volts", "c/volts"}[i%3]), 5+float64(i%100)*1e-5))
	}
	settle(b, j)
	return j
}

// BenchmarkRead reads a job of eight hours: the overview that a chart asks for,
// the same from every reading (the baseline), a minute, and the replay.
func BenchmarkRead(b *testing.B) {
	hours := 8
	if testing.Short() {
		hours = 1
	}
	w := workspace(b, quick)
	j := filled(b, w, hours)
	end := t0 + capture.Instant(hours)*3600*second
	spans := []capture.Span{{Channel: "a/volts", From: t0}}
	series := func(from, to capture.Instant, points int) func(*testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				if _, err := j.Series(ctx, spans, capture.DCVoltage, from, to, points); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	b.Run("overview", series(t0, end, 600))
	b.Run("overview/from-every-reading", series(t0, end, 100_000))
	b.Run("minute", series(end-60*second, end, 600))
	b.Run("replay", func(b *testing.B) {
		n := 0
		for b.Loop() {
			if err := j.Records(ctx, 0, 0, func(capture.Record) error { n++; return nil }); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "records/s")
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			if _, err := j.Verify(ctx); err != nil {
				b.Fatal(err)
			}
		}
	})
	closeJob(b, j)
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			j, err := w.Open("AB-0147", end)
			if err != nil {
				b.Fatal(err)
			}
			closeJob(b, j)
		}
	})
}
