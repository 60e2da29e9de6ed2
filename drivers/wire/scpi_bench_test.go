//go:build unix

package wire_test

import (
	"context"
	"errors"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
	"steadyrail/drivers/wire"
)

// driver measures through package scpi on the far end of these benchmarks.
func driver(b *testing.B) func() error {
	b.Helper()
	device := wire.FarEnd(b)
	d, err := scpi.New(scpi.Options{
		Info: capture.InstrumentInfo{Name: "unit"},
		Plan: scpi.Plan{Channels: []scpi.Channel{{Name: "volts", Quantity: capture.DCVoltage, Read: "READ?",
			Ranges: []capture.Accuracy{{Range: 1, Resolution: 1e-5}, {Range: 10, Resolution: 1e-4}, {Range: 100, Resolution: 1e-3}}}}},
		Dial: func(ctx context.Context) (wire.Link, error) {
			return wire.Open(ctx, wire.Address{Kind: wire.KindSerial, Path: device}, wire.Line{})
		},
	})
	if err != nil {
		b.Fatal(err)
	}
	ctx := context.Background()
	if err := d.Connect(ctx); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = d.Close() })
	return func() error {
		r, err := d.Measure(ctx, "unit/volts")
		if err == nil && r.Value != 5.012 {
			err = errors.New("wrong reading")
		}
		return err
	}
}

// BenchmarkScpiMeasure is a reading through scpi and wire; the baseline is
// BenchmarkBareSerialQuery.
func BenchmarkScpiMeasure(b *testing.B) { wire.Measured(b, driver(b)) }

// BenchmarkScpiCostRatio runs both in turns and reports the ratio; a poll
// through everything may cost at most 1.5 times the bare query.
func BenchmarkScpiCostRatio(b *testing.B) {
	spent := wire.AlternateCost(b, 50, [2]func() error{wire.BareQuery(b), driver(b)})
	b.ReportMetric(spent[1]/spent[0], "x-bare")
}
