package app

import (
	"fmt"
	"slices"
	"strings"
)

// openBeside says, when a job opens, which others are open and where commands
// without a job's name go from now on; empty: none is.
func (a *App) openBeside(id string) string {
	others := slices.DeleteFunc(a.inHand(), func(other string) bool { return other == id })
	switch n := len(others); n {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf(" Job %s is open, too: commands without --job go to %s from now on.", others[0], id)
	default:
		return fmt.Sprintf(" Jobs %s and %s are open, too: commands without --job go to %s from now on.", strings.Join(others[:n-1], ", "), others[n-1], id)
	}
}

// nextInHand says, when a job is closed, where commands without a job's name go
// from now on; empty: no other is open.
func (a *App) nextInHand() string {
	open := a.inHand()
	if len(open) == 0 {
		return ""
	}
	return fmt.Sprintf(" Job %s is still open: commands without --job go to it from now on.", open[len(open)-1])
}

// inHand lists the open jobs in the order in which they were opened.
func (a *App) inHand() []string {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Clone(a.hand)
}
