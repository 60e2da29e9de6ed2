package web

import (
	"slices"

	"steadyrail/capture"
)

// Cautions lists what is to be read in this stage, once a job.
func (v *view) Cautions() []capture.Caution {
	if !v.HasJob {
		return nil
	}
	return capture.CautionsDue(v.Job.Stage, v.Job.Sheet.Rails, func(key string) bool { return slices.Contains(v.Job.Cautioned, key) })
}
