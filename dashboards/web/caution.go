package web

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// CautionNames names the hazards of the cautions that are to be read, for where there
// is no room for the cautions themselves.
func (v *view) CautionNames() string {
	var names []string
	for _, c := range v.Cautions() {
		names = append(names, c.Name())
	}
	return strings.Join(names, ", ")
}

// Cautions lists what is to be read in this stage, once a job.
func (v *view) Cautions() []capture.Caution {
	if !v.HasJob {
		return nil
	}
	return capture.CautionsDue(v.Job.Stage, v.Job.Sheet.Rails, func(key string) bool { return slices.Contains(v.Job.Cautioned, key) })
}
