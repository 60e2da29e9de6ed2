package store

import (
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// Readings that code to next to nothing fill a block by their number: what the next
// one may need is never more than that, or a reader would refuse what waits.
func TestABlockOfManyReadingsIsFollowedByAnother(t *testing.T) {
	var f filling
	var e block.Encoder
	for k := range 3 {
		for i := range block.MaxRows {
			n := k*block.MaxRows + i
			at := t0 + capture.Instant(n)*1000
			f.rows = append(f.rows, block.Row{At: at, Value: 5, Measured: at - 500, HalfWidth: time.Millisecond, Ordinal: uint64(n)})
		}
		if rows, data := f.full(&e, nil); len(rows) != block.MaxRows || len(data) > blockSize {
			t.Fatalf("block %d: %d readings in %d bytes, %d wait for %d", k, len(rows), len(data), len(f.rows), f.guess)
		}
	}
}
