package story

import (
	"context"
	"fmt"
	"io"

	"steadyrail/drivers/sim"
)

// Lay prepares a bench for a person's own hands: every probe hangs in the air,
// the bead in the room, the set is cold with its leads on, and a job is open in
// its first stage with the rails of the board and nothing else. It returns the
// job.
func (d *Demo) Lay(ctx context.Context, out io.Writer) (job string, err error) {
	s := &Story{App: d.App, Bench: d.Bench, Clock: d.Clock, Leash: d.leash, Out: out}
	if err := s.clearBench(ctx); err != nil {
		return "", err
	}
	for _, words := range [][]string{
		{"probe", sim.DMM, "off"}, {"probe", sim.DMM2, "off"}, {"probe", sim.DMM3, "off"}, {"probe", sim.DMM4, "off"},
		{"probe", sim.Thermo, sim.PointRoom, "clip"},
	} {
		if _, err := d.hands.Do(words); err != nil {
			return "", fmt.Errorf("lay out the bench: %w", err)
		}
	}
	if job, err = s.freeName(ctx); err != nil {
		return "", err
	}
	sheet, err := sheetOf(job)
	if err != nil {
		return "", err
	}
	sheet.Technician = ""
	if _, err := d.App.OpenJob(ctx, sheet); err != nil {
		return "", err
	}
	return job, nil
}
