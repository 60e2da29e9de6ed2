package store

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// scaleEnv is how many million readings the benchmarks of a large job write; 2
// when it is not set, a fifth of one in a short run.
const scaleEnv = "STEADYRAIL_SCALE"

func scale() int {
	if n, err := strconv.Atoi(os.Getenv(scaleEnv)); err == nil && n > 0 {
		return n * 1_000_000
	}
	if testing.Short() {
		return 200_000
	}
	return 2_000_000
}

// mixFloor is the entropy of a reading of the mix in bytes, the mean of its two
// kinds of meter; block's TestFloors reckons both.
const mixFloor = (2.496 + 1.696) / 2

// mixChannels are as many as the study of storage has: the first half meters of
// 6.5 digits, the others of 4.5.
const mixChannels = 8

// mixed makes the readings of the study's mix, one behind the other: a rail of
// 9 V that warms up by 30 mV with a time constant of 8 minutes, noise of 0.3 mV,
// ten readings a second from each channel with a jitter of 2 ms, one in 10,000 a
// time-out.
type mixed struct {
	rng     *rand.Rand
	n       int
	last    capture.Instant
	pending [mixChannels]capture.Instant
	text    []byte
}

func newMixed() *mixed {
	m := &mixed{rng: rand.New(rand.NewPCG(88, 0))}
	for c := range m.pending {
		m.pending[c] = m.at(c, 0)
	}
	return m
}

func (m *mixed) at(c, i int) capture.Instant {
	jitter := math.Max(-6000, math.Min(6000, m.rng.NormFloat64()*2000)) // the channels stay in turn
	return t0 + capture.Instant(i)*100_000 + capture.Instant(c)*12_500 + capture.Instant(jitter) + 7000
}

func (m *mixed) next() capture.Record {
	c, i := m.n%mixChannels, m.n/mixChannels
	at := max(m.pending[c], m.last+1)
	m.pending[c] = m.at(c, i+1)
	m.n++
	m.last = at
	r := capture.Reading{Channel: mixNames[c], Quantity: capture.DCVoltage, Range: 20,
		Measured: at - 21_500, HalfWidth: 1500 * time.Microsecond, Ordinal: uint64(i + 1)}
	if m.rng.Float64() < 1e-4 {
		r.Flags = capture.TimedOut
		return capture.Record{At: at, Job: "AB-0147", Item: r}
	}
	v := 9 + 0.030*(1-math.Exp(-float64(i)/4800)) + m.rng.NormFloat64()*0.0003
	digits := 5
	if c >= mixChannels/2 {
		digits = 3
	}
	r.Resolution = math.Pow10(-digits)
	m.text = strconv.AppendFloat(m.text[:0], v, 'f', digits, 64)
	r.Text = string(m.text)
	r.Value, _ = strconv.ParseFloat(r.Text, 64)
	return capture.Record{At: at, Job: "AB-0147", Item: r}
}

var mixNames = func() (out [mixChannels]capture.ChannelID) {
	for c := range out {
		out[c] = capture.ChannelID("dmm" + strconv.Itoa(c) + "/volts")
	}
	return out
}()

// large makes a job of n readings of the mix, committed by 8000.
func large(b *testing.B, w *Workspace, n int) *Job {
	j := create(b, w, "AB-0147")
	m := newMixed()
	for i := 1; i <= n; i++ {
		j.Consume(m.next())
		if i%8000 == 0 || i == n {
			settle(b, j)
		}
	}
	return j
}

// BenchmarkLargeJob measures a job of STEADYRAIL_SCALE million readings of the
// study's mix: its size on disk against the entropy of the same readings, how
// long it takes to open, and what is asked of it.
func BenchmarkLargeJob(b *testing.B) {
	n := scale()
	w := workspace(b, quick)
	begun := time.Now()
	j := large(b, w, n)
	made := time.Since(begun)
	end := t0 + capture.Instant(n/mixChannels)*100_000
	closeJob(b, j)
	b.Run("size", func(b *testing.B) {
		for b.Loop() {
			b.ReportMetric(float64(sizeOf(j.Path()))/float64(n), "B/reading")
			b.ReportMetric(float64(sizeOf(j.Path()))/float64(n)/mixFloor, "x-floor")
			b.ReportMetric(float64(n)/made.Seconds(), "readings/s-made")
		}
	})
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			j, err := w.Open("AB-0147", end+second)
			if err != nil {
				b.Fatal(err)
			}
			b.StopTimer()
			closeJob(b, j)
			b.StartTimer()
		}
	})
	spans := []capture.Span{{Channel: mixNames[0], From: t0}}
	ask := func(b *testing.B, j *Job, from, to capture.Instant) {
		if _, err := j.Series(ctx, spans, capture.DCVoltage, from, to, 2000); err != nil {
			b.Fatal(err)
		}
	}
	reader := func(b *testing.B) *Job {
		j, err := OpenFile(j.Path())
		if err != nil {
			b.Fatal(err)
		}
		return j
	}
	b.Run("overview/first", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			j := reader(b)
			b.StartTimer()
			ask(b, j, 0, 0)
			b.StopTimer()
			closeJob(b, j)
			b.StartTimer()
		}
	})
	back := reader(b)
	defer back.Close(ctx)
	b.Run("overview/warm", func(b *testing.B) {
		for b.Loop() {
			ask(b, back, 0, 0)
		}
	})
	b.Run("minute", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			from := t0 + (end-t0)/97*capture.Instant(i%96)
			ask(b, back, from, from+60*second)
		}
	})
	// A reading by its second, out of the commits of it; "whole" walks all of the job.
	find := func(b *testing.B, i int, whole bool) {
		want := t0 + (end-t0)/97*capture.Instant(i%96)/second*second
		from, to, n := want, want+second, 0
		if whole {
			from, to = 0, 0
		}
		match := func(at capture.Instant) bool { return at >= want && at < want+second }
		err := back.FindAll(ctx, mixNames[0], from, to, match, func(int64, capture.Instant, capture.Reading) bool { n++; return true })
		if err != nil || n == 0 {
			b.Fatal(n, err)
		}
	}
	b.Run("find", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			find(b, i, false)
		}
	})
	b.Run("find/whole", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			find(b, i, true)
		}
	})
	b.Run("replay", func(b *testing.B) {
		for b.Loop() {
			if err := back.Records(ctx, 0, 0, func(capture.Record) error { return nil }); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
		var mem runtime.MemStats
		runtime.ReadMemStats(&mem)
		b.ReportMetric(float64(mem.HeapInuse)/(1<<20), "MiB-heap")
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			if _, err := back.Verify(ctx); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
	})
	// The two that hold one view of the file as long as they take, and with it the
	// log in front of the file.
	b.Run("structure", func(b *testing.B) {
		for b.Loop() {
			if err := (&verifier{r: back.r}).structure(ctx); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("backup", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			if err := back.Backup(ctx, filepath.Join(b.TempDir(), strconv.Itoa(i))); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkIngestMix writes the mix durably, 8000 readings to a commit as the
// largest bench gives; each commit is waited for before the next is handed over.
// "bare" is the row store of [BenchmarkIngest], "indexed" the same with what it
// needs to find a channel's minute. "ratio" lets both write in turns, so that
// whatever else the computer does falls on both alike. Targets: a million
// readings a second, 8 times the bare rows.
func BenchmarkIngestMix(b *testing.B) {
	const per = 8000
	b.Run("steadyrail", func(b *testing.B) { ingestMix(b, per) })
	b.Run("bare", func(b *testing.B) { bare(b, per, "") })
	b.Run("indexed", func(b *testing.B) { bare(b, per, "CREATE INDEX minute ON reading (channel, at)") })
	b.Run("ratio", func(b *testing.B) {
		next, write := mixWriter(b, per)
		rows := rowWriter(b, per, "")
		var ours, theirs time.Duration
		for b.Loop() {
			for range 10 {
				next()
				begun := time.Now()
				write()
				ours += time.Since(begun)
			}
			begun := time.Now()
			for range 10 {
				rows()
			}
			theirs += time.Since(begun)
		}
		b.ReportMetric(float64(theirs)*mixCommits/float64(ours), "x-bare")
	})
}

func ingestMix(b *testing.B, per int) {
	next, write := mixWriter(b, per)
	for b.Loop() {
		b.StopTimer()
		next()
		b.StartTimer()
		write()
	}
	rate(b, per*mixCommits)
}

// mixCommits is how many commits are made ready at a time: few, so that the
// readings are as fresh as those of a meter.
const mixCommits = 5

// mixWriter returns what makes the next readings, and what writes them. It is
// about a daemon that has been running for a while: the memory that it works in
// has been touched before, which on a virtual machine takes 20 µs a page.
func mixWriter(b *testing.B, per int) (next, write func()) {
	const before = 40
	j := create(b, workspace(b, quick), "AB-0147")
	m := newMixed()
	round := make([]capture.Record, per*mixCommits)
	next = func() {
		for k := range round {
			round[k] = m.next()
		}
	}
	write = func() {
		for batch := range slices.Chunk(round, per) {
			for _, rec := range batch {
				j.Consume(rec)
			}
			settle(b, j)
		}
	}
	for range before {
		next()
		write()
	}
	return next, write
}

// BenchmarkBytesWritten counts what the file system is given for a second of 15
// or of 80 readings, the write-ahead log and the checkpoints together.
func BenchmarkBytesWritten(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("the count comes from /proc")
	}
	for _, per := range []int{15, 80} {
		b.Run(strconv.Itoa(per), func(b *testing.B) {
			j := create(b, workspace(b, quick), "AB-0147")
			m := newMixed()
			from := written(b)
			for b.Loop() {
				for range per {
					j.Consume(m.next())
				}
				settle(b, j)
			}
			b.ReportMetric(float64(written(b)-from)/float64(b.N*per), "B-written/reading")
		})
	}
}

// written returns how many bytes this process has passed to write calls.
func written(b *testing.B) (n int64) {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(strings.TrimSpace(line), "wchar: "); ok {
			if n, err = strconv.ParseInt(rest, 10, 64); err != nil {
				b.Fatal(err)
			}
		}
	}
	return n
}
