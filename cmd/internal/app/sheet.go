package app

import (
	"context"
	"fmt"
	"strings"
	"unicode/utf8"

	"steadyrail/dashboards"
)

// longestLine bounds a line of the sheet, in bytes.
const longestLine = 2000

// SetSheet completes the sheet of an open job: customer and serial number may
// come later. The whole new sheet becomes part of the record.
func (a *App) SetSheet(ctx context.Context, id string, c dashboards.SheetChange) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	what := "complete the sheet of job " + j.id
	sheet := j.book.Sheet()
	changed := false
	for _, f := range []struct{ to, from *string }{
		{&sheet.Set, c.Set}, {&sheet.Board, c.Board}, {&sheet.SerialNumber, c.SerialNumber}, {&sheet.Customer, c.Customer},
		{&sheet.Symptom, c.Symptom}, {&sheet.Indication, c.Indication}, {&sheet.Technician, c.Technician},
	} {
		if f.from == nil {
			continue
		}
		text := strings.TrimSpace(*f.from)
		if !utf8.ValidString(text) || len(text) > longestLine {
			return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("%s: a line has %d bytes of UTF-8 at most", what, longestLine)}
		}
		changed = changed || *f.to != text
		*f.to = text
	}
	if !changed {
		return dashboards.Result{Job: j.id, Say: "Nothing on the sheet is new."}, nil
	}
	at, err := a.bus.Post(j.id, sheet)
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	say := "The sheet of " + j.id + " is completed." + a.durable(ctx, j)
	if c.SerialNumber != nil {
		say += a.wasHere(ctx, sheet)
	}
	return dashboards.Result{Job: j.id, At: at, Say: say}, nil
}
