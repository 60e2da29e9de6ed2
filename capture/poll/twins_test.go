package poll_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// gate holds the news of one instrument back.
type gate struct {
	*doubtful
	name string
	open chan struct{}
}

func (g *gate) Doubt(name string, yes bool) {
	g.doubtful.Doubt(name, yes)
	if name == g.name {
		<-g.open
	}
}

// Of two instruments whose adapters show the same number both are in doubt, also
// when the second one comes while the first has looked and is not up yet.
func TestTwinsThatComeAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := capture.NewWallClock()
		g := &gate{doubtful: &doubtful{sink: &sink{clock: clock}, doubt: map[string]bool{}}, name: "one", open: make(chan struct{})}
		var adapters poll.Adapters
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		loops := map[string]*poll.Loop{}
		for _, name := range []string{"one", "two"} {
			m := meter(name, 200*time.Millisecond)
			m.info.Identity = capture.Identity{Serial: "0403:6001:A1", Source: "adapter"}
			l := poll.New("usb-serial:"+name, []poll.Instrument{m}, clock, g, poll.Options{Classify: classify, Adapters: &adapters})
			loops[name] = l
			wg.Go(func() { _ = l.Run(ctx) })
			time.Sleep(time.Second) // one has looked, and waits at the gate
		}
		close(g.open)
		time.Sleep(time.Second)
		for name, l := range loops {
			if st := l.States()[0]; !st.Up || !st.Doubtful || !g.of(name) {
				t.Errorf("%s: in doubt %v, %+v", name, g.of(name), st)
			}
		}
		asked := 0
		for _, act := range g.posted() {
			if act == ": one tap "+capture.TapWanted {
				asked++
			}
		}
		if asked != 1 {
			t.Errorf("asked %d times to touch a rail with it: %q", asked, g.posted())
		}
		cancel()
		wg.Wait()
	})
}

// Whoever was silent may have been switched off and on: its input is selected
// again, and has to settle again, before anything counts.
func TestAfterASilenceTheInputIsSelectedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		m.info.Channels[0].Settle = 500 * time.Millisecond
		_, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(3 * time.Second)
		m.set(func(f *fake) { f.fail = errTimeout })
		time.Sleep(300 * time.Millisecond)
		m.set(func(f *fake) { f.fail = nil })
		back := s.clock.Now()
		time.Sleep(2 * time.Second)
		stop()
		selected := 0
		for _, said := range m.said() {
			if said == "select dmm/volts" {
				selected++
			}
		}
		if selected < 2 {
			t.Errorf("selected %d times: %q", selected, m.said())
		}
		for _, f := range s.of("dmm/volts") {
			if f.at > back && f.r.HasValue() && f.begun < back.Add(200*time.Millisecond) {
				t.Errorf("%v after it was back a reading counts", f.begun.Sub(back))
			}
		}
	})
}
