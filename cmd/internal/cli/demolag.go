package cli

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"steadyrail/dashboards/web"
	"steadyrail/drivers/sim"
)

// lag tells that bench time falls behind: when that is notable, and again when it is
// twice as far behind, so that a busy computer does not fill the terminal.
type lag struct{ told time.Duration }

// look returns what is to be told now, "" for nothing.
func (l *lag) look(lost time.Duration) string {
	if lost < 2*l.told {
		return ""
	}
	say := web.BenchLag(lost.Seconds())
	if say != "" {
		l.told = lost
	}
	return say
}

// tellLag waits until ctx is done and tells meanwhile.
func tellLag(ctx context.Context, out io.Writer, c *sim.Clock) {
	var l lag
	every := time.NewTicker(time.Second)
	defer every.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
		if say := l.look(c.Lost()); say != "" {
			fmt.Fprintln(out, fitted(out, strings.ReplaceAll(say, "\u00a0", " ")+"."))
		}
	}
}
