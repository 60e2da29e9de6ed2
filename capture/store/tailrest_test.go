package store

import (
	"testing"

	"steadyrail/capture"
)

// A commit that fills blocks of a channel keeps the rest of its readings in the tail,
// and no reading twice. From what it has written everything comes back, also to who
// finds the file as a crash has left it.
func TestTheTailHoldsWhatNoBlockHas(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	const channels, commits, per = 2, 3, 16000
	n := 0
	for k := range commits {
		for range per {
			id := capture.ChannelID([]string{"a/volts", "b/volts"}[n%channels])
			j.Consume(volts(t0+capture.Instant(n*100), id, 5+float64(n*7919%1000)*1e-5))
			n++
		}
		settle(t, j)
		var data []byte
		if err := j.r.db.QueryRow("SELECT data FROM tail ORDER BY n DESC LIMIT 1").Scan(&data); err != nil {
			t.Fatal(err)
		}
		list, err := chunks(data)
		if err != nil || len(list) != channels {
			t.Fatalf("commit %d: readings of %d channels wait: %v", k+1, len(list), err)
		}
		for _, c := range list {
			if first := int64(k * per / channels); c.base <= first {
				t.Errorf("commit %d: the tail has the readings of channel %d from %d on, the commit's first is %d", k+1, c.channel, c.base, first)
			}
		}
	}
	back, err := OpenFile(j.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer closeJob(t, back)
	if got := len(all(t, back, 0, 0)); got < n {
		t.Errorf("%d records came back of %d readings", got, n)
	}
	if _, err := back.Verify(ctx); err != nil {
		t.Error(err)
	}
}
