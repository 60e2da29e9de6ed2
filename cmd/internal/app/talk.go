package app

import (
	"io"

	"steadyrail/capture"
)

// terminal writes what is said in the terminal in the decimal mark of the bench.
type terminal struct {
	app *App
	w   io.Writer
}

// talk is where alarms are said; nil: nowhere.
func (a *App) talk() io.Writer {
	if a.o.Talk == nil || a.o.Config.Decimal == capture.Point {
		return a.o.Talk
	}
	return terminal{a, a.o.Talk}
}

// Write turns the figures and reports the length it was given.
func (t terminal) Write(b []byte) (int, error) {
	turn := capture.NewTurner(t.app.o.Config.Decimal, t.app.railNames())
	if _, err := io.WriteString(t.w, turn.Text(string(b))); err != nil {
		return 0, err
	}
	return len(b), nil
}

// railNames lists the rails of all open jobs.
func (a *App) railNames() []string {
	var out []string
	for _, j := range a.Snapshot().Jobs {
		out = append(out, j.Sheet.RailNames()...)
	}
	return out
}
