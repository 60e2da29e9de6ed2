package web

import "steadyrail/capture"

// formulaRow is a formula with what it comes to now, or why it does not.
type formulaRow struct {
	Name, Text, Figure, PlusMinus, Age, Why string
}

// Formulas lists what is computed from channels for the job.
func (v *view) Formulas() []formulaRow {
	var out []formulaRow
	for _, d := range v.Job.Derived {
		row := formulaRow{Name: d.Formula.Name, Text: d.Formula.Text, Why: d.Why}
		if d.Why == "" {
			row.Figure, row.Age = figureIn(d.Formula.Unit, d.Reading), ageText(max(0, v.snap.Now.Sub(d.At)))
		}
		if u := d.Uncertainty; u > 0 && d.Why == "" {
			row.PlusMinus = capture.Figure(u, max(uncertaintyStep(u), d.Reading.Resolution))
		}
		out = append(out, row)
	}
	return out
}

// figureIn writes a figure in the unit of its formula: kelvin and seconds are
// units of no quantity.
func figureIn(unit string, r capture.Reading) string {
	switch {
	case r.Quantity != capture.NoQuantity:
		return valueText(r)
	case unit == capture.Second.ASCII():
		return capture.Second.Text(r.Value, r.Resolution)
	}
	return capture.Figure(r.Value, r.Resolution) + " " + unit
}
