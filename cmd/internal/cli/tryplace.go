package cli

import (
	"context"
	"errors"
	"fmt"
	"net/url"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// tryPlace asks whether a lead may go on, before it does. A loop is told wire by
// wire; that it must not go on is a judgement, exit code 1.
func tryPlace(ctx context.Context, s streams, d *client, job string, p capture.Placement) error {
	q := url.Values{"channel": {string(p.Channel)}, "rail": {p.Rail}, "point": {p.Point}, "return": {p.Return}, "hold": {p.Hold.String()}, "job": {job}}
	var may dashboards.MayPlace
	if err := d.get(ctx, "/api/v1/placements/check?"+q.Encode(), &may); err != nil {
		return err
	}
	lines := may.Loop
	if len(lines) == 0 {
		lines = []string{may.Say}
	}
	if !may.OK {
		lines = append(lines, "So: "+may.Advice)
	}
	for _, line := range append(lines, may.Cautions...) {
		fmt.Fprintln(s.out, line)
	}
	if !may.OK {
		return judged(errors.New("it must not go on"))
	}
	return nil
}
