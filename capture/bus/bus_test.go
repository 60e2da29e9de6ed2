package bus_test

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/capture/bus"
)

func mustPost(t testing.TB, b *bus.Bus, job string, items ...capture.Item) capture.Instant {
	t.Helper()
	done, err := b.PostAll(job, items...)
	if err != nil {
		t.Fatal(err)
	}
	return done[len(done)-1]
}

// Whatever the clock does and whoever posts: instants strictly increase, and
// what a job's sinks saw is what its file gives again.
func TestLiveSequenceEqualsReplay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clock := &handClock{now: start}
		b := bus.New(clock)
		var whole log
		b.Attach("", &whole)
		jobs := []string{"AB-0147", "AB-0148"}
		logs := map[string]*log{}
		open := map[string]bool{}
		for _, j := range jobs {
			logs[j] = &log{}
			b.Attach(j, logs[j])
		}
		var newest capture.Instant
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			clock.add(rapid.SampledFrom([]time.Duration{
				0, 0, time.Microsecond, 99_877 * time.Microsecond, 40 * time.Millisecond, time.Second, -time.Second, 7 * time.Second,
			}).Draw(t, "clock"))
			job := rapid.SampledFrom(jobs).Draw(t, "job")
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				if _, err := b.Post(job, board(job)); err == nil {
					open[job] = true
				}
			case 1:
				_, _ = b.Post(job, capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic"})
			case 2:
				newest = b.Read(capture.Reading{Channel: "dmm/volts"})
			case 3:
				_, _ = b.Post("", capture.Act{Verb: capture.ActNote})
			case 4:
				bus.TickBatch(b)
			case 5:
				if rapid.IntRange(0, 3).Draw(t, "close") == 0 {
					if _, err := b.Post(job, capture.Act{Verb: capture.ActClose}); err == nil {
						open[job] = false
					}
				}
			}
		}
		_ = newest
		var before capture.Instant
		for _, r := range whole.all() {
			if r.At <= before {
				t.Fatalf("%v is not later than %v", r.At, before)
			}
			before = r.At
		}
		for _, job := range jobs {
			live := logs[job].all()
			upto := capture.Instant(0)
			if open[job] && len(live) > 0 {
				upto = before
			}
			if again := replayed(job, stored(live), upto); !reflect.DeepEqual(live, again) {
				t.Fatalf("job %s: live %d records, replay %d:\n%v\n%v", job, len(live), len(again), live, again)
			}
		}
	})
}

func TestStandingClockStillOrders(t *testing.T) {
	b := bus.New(&handClock{now: start})
	var whole log
	b.Attach("", &whole)
	var before capture.Instant
	for range 250_000 { // two and a half grid points at one microsecond each
		at := b.Read(capture.Reading{Channel: "dmm/volts"})
		if at <= before {
			t.Fatalf("%v after %v", at, before)
		}
		before = at
	}
	ticks := len(whole.all()) - 250_000
	if ticks != 2 && ticks != 3 {
		t.Errorf("%d ticks in a quarter of a second, want 2 or 3", ticks)
	}
}

func TestRefusals(t *testing.T) {
	five := func(ch capture.ChannelID) capture.Placement {
		return capture.Placement{Channel: ch, Rail: "+5 V logic", Hold: capture.Clipped}
	}
	cases := []struct {
		name string
		job  string
		item capture.Item
		want error
		says string
	}{
		{"unknown job", "AB-0999", five("dmm/volts"), bus.ErrNoJob, "AB-0999"},
		{"closed job", "AB-0100", five("dmm/volts"), bus.ErrClosed, "AB-0100"},
		{"sheet of a closed job", "AB-0100", board("AB-0100"), bus.ErrClosed, "AB-0100"},
		{"unknown rail", "AB-0147", capture.Placement{Channel: "thermo/celsius", Rail: "+5 V"}, bus.ErrNoRail, "+5 V logic, +12 V audio"},
		{"serves another", "AB-0148", five("dmm/volts"), bus.ErrServesOther, "AB-0147"},
		{"same input serves another", "AB-0148", five("dmm/ohms"), bus.ErrServesOther, "AB-0147"},
		{"taken to be put on nothing", "AB-0148", capture.Placement{Channel: "thermo/celsius"}, bus.ErrServesOther, "AB-0147"},
		{"correction of nothing", "AB-0147", capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic", Corrects: 4711}, bus.ErrNoPlacement, "no such placement"},
		{"no channel", "AB-0147", capture.Placement{Rail: "+5 V logic"}, bus.ErrNotPostable, "channel"},
		{"a tick", "AB-0147", capture.Tick{}, bus.ErrNotPostable, "Tick"},
		{"nothing at all", "AB-0147", nil, bus.ErrNotPostable, ""},
		{"placement without a job", "", five("dmm/volts"), bus.ErrNotPostable, "without a job"},
		{"sheet of another job", "AB-0150", board("AB-0147"), bus.ErrWrongJobName, "AB-0147"},
		{"two rails of one name", "AB-0150", capture.Sheet{Job: "AB-0150", Rails: []capture.Rail{{Name: "+5"}, {Name: "+5"}}}, bus.ErrNotPostable, "+5"},
		{"sheet without a rail in use", "AB-0147", capture.Sheet{Job: "AB-0147"}, bus.ErrNoRail, "dmm/volts"},
		{"typed reading from nowhere", "AB-0147", capture.Reading{Channel: "hand/volts"}, bus.ErrNotServing, "hand/volts"},
		{"typed reading of another job", "AB-0148", capture.Reading{Channel: "dmm/volts"}, bus.ErrServesOther, "AB-0147"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b := bus.New(&handClock{now: start})
			mustPost(t, b, "AB-0100", board("AB-0100"), capture.Act{Verb: capture.ActClose})
			mustPost(t, b, "AB-0147", board("AB-0147"), bench(), five("dmm/volts"), capture.Placement{Channel: "thermo/celsius"})
			mustPost(t, b, "AB-0148", board("AB-0148"))
			var whole log
			b.Attach("", &whole)
			at, err := b.Post(c.job, c.item)
			if !errors.Is(err, c.want) || at != 0 {
				t.Fatalf("got %v, %v; want %v", at, err, c.want)
			}
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("%q does not say %q", err, c.says)
			}
			if n := len(whole.all()); n != 0 {
				t.Errorf("a refused item left %d records", n)
			}
		})
	}
}

func TestChannelGoesToTheNextJob(t *testing.T) {
	five := capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic", Hold: capture.Clipped}
	ways := map[string]capture.Item{
		"when the first is closed":         capture.Act{Verb: capture.ActClose},
		"when it was taken off there":      capture.Placement{Channel: "dmm/volts"},
		"when another function was placed": capture.Placement{Channel: "dmm/ohms", Point: "CN3"},
	}
	for name, leave := range ways {
		t.Run(name, func(t *testing.T) {
			b := bus.New(&handClock{now: start})
			mustPost(t, b, "AB-0147", board("AB-0147"), bench(), five)
			mustPost(t, b, "AB-0148", board("AB-0148"))
			mustPost(t, b, "AB-0147", leave)
			_, err := b.Post("AB-0148", five)
			if name == "when another function was placed" {
				if !errors.Is(err, bus.ErrServesOther) {
					t.Fatalf("the input is on CN3 of the first job: %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if job, p, _ := b.Where("dmm/volts"); job != "AB-0148" || p.Rail != "+5 V logic" {
				t.Errorf("it is in %q on %q", job, p.Rail)
			}
			if got := b.Serves("dmm"); !reflect.DeepEqual(got, []string{"AB-0148"}) {
				t.Errorf("the instrument serves %v", got)
			}
		})
	}
}

// Ordinals count the readings that a job got, so that a hole is a loss.
func TestOrdinalsCountByJobAndChannel(t *testing.T) {
	b := bus.New(&handClock{now: start})
	var whole log
	b.Attach("", &whole)
	read := func() { b.Read(capture.Reading{Channel: "dmm/volts"}) }
	read()
	mustPost(t, b, "AB-0147", board("AB-0147"), capture.Placement{Channel: "dmm/volts"})
	read()
	read()
	mustPost(t, b, "AB-0147", capture.Act{Verb: capture.ActClose})
	read()
	var got []uint64
	for _, r := range whole.all() {
		if rd, ok := r.Item.(capture.Reading); ok {
			got = append(got, rd.Ordinal)
		}
	}
	if want := []uint64{1, 1, 2, 2}; !reflect.DeepEqual(got, want) {
		t.Errorf("ordinals %v, want %v", got, want)
	}
}

func TestReadingUnderWayWhenTheProbeMovedBelongsToNoRail(t *testing.T) {
	clock := &handClock{now: start}
	b := bus.New(clock)
	var job, whole log
	b.Attach("AB-0147", &job)
	b.Attach("", &whole)
	place := func(rail string, hold capture.Hold) capture.Instant {
		clock.add(time.Second)
		return mustPost(t, b, "AB-0147", capture.Placement{Channel: "dmm/volts", Rail: rail, Hold: hold})
	}
	mustPost(t, b, "AB-0147", board("AB-0147"))
	place("+5 V logic", capture.Touched)
	moved := place("+12 V audio", capture.Touched)
	for _, c := range []struct {
		begun capture.Instant
		job   string
	}{{moved - 1, ""}, {moved, ""}, {moved + 1, "AB-0147"}} {
		b.ReadBegun(capture.Reading{Channel: "dmm/volts"}, c.begun)
		all := whole.all()
		if got := all[len(all)-1].Job; got != c.job {
			t.Errorf("begun %d µs after the move: filed under %q, want %q", c.begun-moved, got, c.job)
		}
	}
	// From touched to clipped nothing moved.
	place("+12 V audio", capture.Clipped)
	b.ReadBegun(capture.Reading{Channel: "dmm/volts"}, moved+1)
	all := whole.all()
	if got := all[len(all)-1].Job; got != "AB-0147" {
		t.Errorf("a firmer hold cost a reading: filed under %q", got)
	}
}

// Placing one function of a shared input takes the other off, by records of
// its own, so that what a late switch still delivers is filed nowhere.
func TestSharedInputIsOnOnePointAtATime(t *testing.T) {
	b := bus.New(&handClock{now: start})
	var job log
	b.Attach("AB-0147", &job)
	mustPost(t, b, "AB-0147", board("AB-0147"), bench(),
		capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic"},
		capture.Placement{Channel: "dmm/ohms", Rail: "+12 V audio"})
	b.Read(capture.Reading{Channel: "dmm/volts"})

	var fold capture.Placements
	for _, r := range job.all() {
		switch it := r.Item.(type) {
		case capture.Placement:
			if err := fold.Apply(r.At, it); err != nil {
				t.Fatal(err)
			}
		case capture.Reading:
			if p, _ := fold.At(it.Channel, r.At); p.Rail != "" {
				t.Errorf("volts filed on %s while the probe is on +12 V audio for ohms", p.Rail)
			}
		}
	}
	if p, _, _ := fold.Now("dmm/ohms"); p.Rail != "+12 V audio" {
		t.Errorf("ohms on %q", p.Rail)
	}
}

func TestCorrectionMendsThePastOnly(t *testing.T) {
	b := bus.New(&handClock{now: start})
	mustPost(t, b, "AB-0147", board("AB-0147"))
	wrong := mustPost(t, b, "AB-0147", capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic"})
	mustPost(t, b, "AB-0147", capture.Placement{Channel: "dmm/volts", Rail: "+3.3 V DSP"})
	mustPost(t, b, "AB-0147", capture.Placement{Channel: "dmm/volts", Rail: "+12 V audio", Corrects: wrong, By: "mw", Why: "wrong test point"})
	if _, p, _ := b.Where("dmm/volts"); p.Rail != "+3.3 V DSP" {
		t.Errorf("the correction of an earlier placement moved the channel to %s", p.Rail)
	}
}

func TestSeedContinuesAJob(t *testing.T) {
	clock := &handClock{now: start}
	first := bus.New(clock)
	var before log
	first.Attach("AB-0147", &before)
	mustPost(t, first, "AB-0147", board("AB-0147"), bench(), capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic"})
	clock.add(350 * time.Millisecond)
	last := first.Read(capture.Reading{Channel: "dmm/volts"})
	file := stored(before.all())

	for name, gap := range map[string]time.Duration{"after an hour": time.Hour, "with a clock set back": -time.Hour} {
		t.Run(name, func(t *testing.T) {
			b := bus.New(&handClock{now: last.Add(gap)})
			err := b.Seed("AB-0147", bus.Past{After: last, Records: file, Ordinals: map[capture.ChannelID]uint64{"dmm/volts": 1}})
			if err != nil {
				t.Fatal(err)
			}
			var after log
			b.Attach("AB-0147", &after)
			mustPost(t, b, "AB-0147", capture.Gap{From: last, Reason: "not running"})
			at := b.Read(capture.Reading{Channel: "dmm/volts"})
			whole := append(append([]capture.Record(nil), file...), stored(after.all())...)
			want := replayed("AB-0147", whole, at)
			// What was replayed to the sinks before they were attached ends with the last stored record.
			head := len(replayed("AB-0147", file, 0))
			if got := after.all(); !reflect.DeepEqual(got, want[head:]) {
				t.Fatalf("live %d records, replay %d", len(got), len(want)-head)
			}
			if r := whole[len(whole)-1].Item.(capture.Reading); r.Ordinal != 2 {
				t.Errorf("ordinal %d, want 2", r.Ordinal)
			}
		})
	}
}

func TestSeedGivesAChannelToWhoPlacedItLast(t *testing.T) {
	b := bus.New(&handClock{now: start})
	for _, s := range []struct {
		job string
		at  capture.Instant
	}{{"AB-0147", start - 3000}, {"AB-0148", start - 1000}, {"AB-0149", start - 2000}} {
		err := b.Seed(s.job, bus.Past{After: s.at, Records: []capture.Record{
			{At: s.at, Item: capture.Placement{Channel: "dmm/volts"}},
		}})
		if err != nil {
			t.Fatal(err)
		}
	}
	if job, _, _ := b.Where("dmm/volts"); job != "AB-0148" {
		t.Errorf("the channel serves %s", job)
	}
	if err := b.Seed("AB-0148", bus.Past{}); err == nil {
		t.Error("an open job was continued a second time")
	}
	if got := b.Jobs(); !reflect.DeepEqual(got, []string{"AB-0147", "AB-0148", "AB-0149"}) {
		t.Errorf("open: %v", got)
	}
}

// TestGapSaysThatItsTicksWereHeard: the bus has handed them out, so a replay
// must hand them out too.
func TestGapSaysThatItsTicksWereHeard(t *testing.T) {
	clock := &handClock{now: start}
	b := bus.New(clock)
	var seen log
	b.Attach("", &seen)
	mustPost(t, b, "AB-0147", board("AB-0147"))
	clock.add(3 * time.Second)
	b.Gap(capture.Gap{From: clock.Now().Add(-time.Second), To: clock.Now(), Reason: "the computer slept"})
	var gaps, ticks int
	for _, r := range seen.all() {
		switch item := r.Item.(type) {
		case capture.Gap:
			gaps++
			if !item.Ticked {
				t.Errorf("%+v", r)
			}
		case capture.Tick:
			ticks++
		}
	}
	if gaps != 2 || ticks != 30 {
		t.Errorf("%d gaps and %d ticks, want 2 (job and bench) and 30", gaps, ticks)
	}
}
