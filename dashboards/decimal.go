package dashboards

import (
	"net/http"

	"steadyrail/capture"
)

// decimalHeader tells a client of the API the bench's decimal mark: what is
// answered keeps the point, and who shows it to people turns it.
const decimalHeader = "Steadyrail-Decimal"

// turner returns what turns the figures of a page; nil for a bench with points.
// It is asked for each page, for rails come and go with jobs, and their names are
// no figures.
func turner(o Options) func() capture.Turner {
	if o.Decimal == capture.Point {
		return nil
	}
	return func() capture.Turner {
		var names []string
		for _, j := range o.Bench.Snapshot().Jobs {
			names = append(names, j.Sheet.RailNames()...)
		}
		return capture.NewTurner(o.Decimal, names)
	}
}

// withDecimal tells the mark with every answer.
func (h *handler) withDecimal(next http.Handler) http.Handler {
	if h.opts.Decimal == capture.Point {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set(decimalHeader, h.opts.Decimal.String())
		next.ServeHTTP(w, r)
	})
}
