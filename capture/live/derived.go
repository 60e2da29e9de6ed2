package live

import (
	"slices"

	"steadyrail/capture"
)

// SetDerived notes what formulas of a job came to, each in the place of its
// last figure. For a job that is not open it does nothing.
func (t *Table) SetDerived(job string, list []capture.Derived) {
	if len(list) == 0 {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	j := t.job(job)
	if j == nil {
		return
	}
	for _, d := range list {
		j.derive(d)
	}
	t.changed()
}

// derive notes a figure. Snapshots share the old list.
func (j *job) derive(d capture.Derived) {
	j.derived = slices.Clone(j.derived)
	i := slices.IndexFunc(j.derived, func(o capture.Derived) bool { return o.Formula.Name == d.Formula.Name })
	if i < 0 {
		j.derived = append(j.derived, d)
		return
	}
	j.derived[i] = d
}

// reform drops the figures of formulas that are no more, or not the same.
func (j *job) reform(set capture.RuleSet) {
	j.derived = slices.DeleteFunc(slices.Clone(j.derived), func(d capture.Derived) bool { return !slices.Contains(set.Formulas, d.Formula) })
}
