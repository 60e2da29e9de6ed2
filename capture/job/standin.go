package job

import "steadyrail/capture"

// needStandIn refuses a judgement that cannot be read back.
func needStandIn(a capture.Act) error {
	if _, ok := a.StandIn(); !ok || a.Subject == "" {
		return bad("%s is kept by the program that judged: steadyrail standin --keep", a.Verb)
	}
	return nil
}

func judgedStandIn(a capture.Act) string {
	j, ok := a.StandIn()
	if !ok {
		return "A stand-in was judged, and its text cannot be read."
	}
	return "Stand-in judged: " + j.Say
}
