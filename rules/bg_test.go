package rules

import (
	"cmp"
	"context"
	"slices"

	"steadyrail/capture"
)

var bg = context.Background()

func sortLog(log []capture.Record) {
	slices.SortStableFunc(log, func(a, b capture.Record) int { return cmp.Compare(a.At, b.At) })
	for i := 1; i < len(log); i++ { // strictly increasing, as the bus stamps
		log[i].At = max(log[i].At, log[i-1].At+1)
	}
}
