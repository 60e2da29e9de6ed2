package cli

import (
	"context"

	"steadyrail/capture"
)

const vouchUsage = "reason why the instrument may stand there although its stated rating does not reach; never on the mains side"

// vouch records why an instrument may stand on a rail in spite of its rating,
// before it is placed there; no reason, nothing.
func vouch(ctx context.Context, s streams, d *client, id, instrument, rail, why string) error {
	if why == "" {
		return nil
	}
	if instrument == "" || rail == "" {
		return usef("--vouch is about an instrument on a rail: name both")
	}
	name, err := railOf(ctx, d, id, rail)
	if err != nil {
		return err
	}
	res, err := d.act(ctx, id, capture.Act{Verb: capture.ActVouch, Subject: instrument + " on " + name, Text: why})
	return told(s, res, err)
}
