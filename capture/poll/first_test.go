package poll_test

import (
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// A trip goes before everything that people asked for and that was not begun,
// whoever asked first; it waits for one exchange at most.
func TestTripGoesFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := supply()
		l, _, stop := run(t, poll.Options{}, nil, p)
		time.Sleep(time.Second)
		for range 20 {
			p.set(func(p *fake) { p.takes = 100 * time.Millisecond })
			var wg sync.WaitGroup
			ask := func(do func() (string, error)) {
				wg.Go(func() {
					if _, err := do(); err != nil {
						t.Error(err)
					}
				})
			}
			for range 5 {
				ask(func() (string, error) {
					return l.Do(t.Context(), "supply", capture.Act{Verb: capture.ActOutput, Text: "on"})
				})
			}
			synctest.Wait()
			before := strings.Count(strings.Join(p.said(), "\n"), "do on")
			ask(func() (string, error) {
				return l.DoFirst(t.Context(), "supply", capture.Act{Verb: capture.ActOutput, Text: "off"})
			})
			wg.Wait()
			said := p.said()
			off := strings.LastIndex(strings.Join(said, "\n"), "do off")
			after := strings.Count(strings.Join(said, "\n")[:off], "do on")
			if after-before > 1 {
				t.Fatalf("%d acts of people went before the trip", after-before)
			}
			time.Sleep(173 * time.Millisecond)
		}
		stop()
	})
}
