package app

import (
	"errors"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/poll"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/drivers"
)

// problem sorts errors of the rooms into what the one who asked can do.
func problem(what string, err error) error {
	kinds := []struct {
		is   error
		kind dashboards.Kind
	}{
		{capture.ErrJobID, dashboards.Invalid},
		{store.ErrExists, dashboards.Conflict},
		{store.ErrNoJob, dashboards.NotFound},
		{bus.ErrNoJob, dashboards.NotFound},
		{bus.ErrClosed, dashboards.Conflict},
		{bus.ErrServesOther, dashboards.Conflict},
		{bus.ErrNoRail, dashboards.NotFound},
		{bus.ErrNoPlacement, dashboards.NotFound},
		{bus.ErrNotPostable, dashboards.Invalid},
		{job.ErrBadAct, dashboards.Invalid},
		{job.ErrNeedsReason, dashboards.Refused},
		{job.ErrNotNow, dashboards.Conflict},
		{drivers.ErrNotAllowed, dashboards.NotAllowed},
		{drivers.ErrRefused, dashboards.Refused},
		{poll.ErrDown, dashboards.Unavailable},
		{poll.ErrStopped, dashboards.Unavailable},
		{poll.ErrReplugged, dashboards.Unavailable},
		{drivers.ErrTimeout, dashboards.Unavailable},
		{drivers.ErrGarbled, dashboards.Unavailable},
		{drivers.ErrInDoubt, dashboards.Unavailable},
		{drivers.ErrGone, dashboards.Unavailable},
		{drivers.ErrMismatch, dashboards.Unavailable},
	}
	for _, k := range kinds {
		if errors.Is(err, k.is) {
			return &dashboards.Error{Kind: k.kind, Detail: what, Err: err}
		}
	}
	return &dashboards.Error{Detail: what, Err: err}
}
