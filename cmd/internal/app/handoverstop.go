package app

import (
	"context"
	"slices"
)

// startHandovers has those that are open closed when the daemon ends.
func (a *App) startHandovers(context.Context) (func(context.Context) error, error) {
	return a.stopHandovers, nil
}

func (a *App) stopHandovers(context.Context) error {
	a.handovers.mu.Lock()
	ids := make([]string, 0, len(a.handovers.open))
	for id := range a.handovers.open {
		ids = append(ids, id)
	}
	a.handovers.mu.Unlock()
	slices.Sort(ids)
	for _, id := range ids {
		a.endHandover(id)
	}
	return nil
}
