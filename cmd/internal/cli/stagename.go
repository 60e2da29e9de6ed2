package cli

import (
	"strings"

	"steadyrail/capture"
)

// stageNamed takes a stage as people type it: standin, warm up, cold, live. A
// beginning that fits one stage alone will do; what fits none comes back as it was.
func stageNamed(s string) capture.Stage {
	bare := func(s string) string {
		return strings.ToLower(strings.NewReplacer("-", "", " ", "", "_", "").Replace(s))
	}
	var fit []capture.Stage
	for _, stage := range capture.Stages() {
		switch name := bare(string(stage)); {
		case name == bare(s):
			return stage
		case bare(s) != "" && strings.HasPrefix(name, bare(s)):
			fit = append(fit, stage)
		}
	}
	if len(fit) == 1 {
		return fit[0]
	}
	return capture.Stage(s)
}
