package dashboards

import (
	"context"

	"steadyrail/dashboards/web"
)

// PaperExaminer answers everything with one filled example.
type PaperExaminer struct{}

// Health finds one thing of each grade.
func (PaperExaminer) Health(context.Context) (web.Health, error) {
	return web.Health{At: 1, Findings: []web.HealthFinding{
		{LookedAt: "version", Found: "1.2.3, judging by rules 5", Grade: "fine"},
		{LookedAt: "configuration", Found: "bench.yaml:8: listen: no port", Do: "write one, 127.0.0.1:8470", Grade: "wrong", ToDo: true},
		{LookedAt: "disk space", Found: "812 MB free", Do: "make room, or have closed jobs elsewhere: steadyrail backup", Grade: "attend", ToDo: true},
		{LookedAt: "port of meter", Found: "/dev/serial/by-id/usb-bench-meter-0042-if00-port0 is held by modem-service (process 471)", Do: "end that program: two that read one port get half each", Grade: "fails", ToDo: true},
		{LookedAt: "calibration", Found: "not stated of supply, load", Do: "add calibration_due to the configuration", Grade: "note"},
	}}, nil
}

// Configuration is wrong in one place, and its last right reading differs.
func (PaperExaminer) Configuration() web.Configuration {
	return web.Configuration{File: "/home/bench/bench.yaml", Bench: "east", Loaded: 1, CanReload: true,
		Changes: []string{"others are told of alarms"}, Waits: []string{"instrument meter"},
		Problems: []web.ConfigProblem{{File: "/home/bench/bench.yaml", Line: 8, Key: "listen", What: "no port", Hint: "write one, 127.0.0.1:8470"}}, Refused: "r"}
}
