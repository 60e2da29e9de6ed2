package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
	"steadyrail/rules/notify"
)

// A cable is pulled, the silence is an alarm and heard to be one; then another
// meter answers at it. The one alarm is told twice, the second time with both
// names and unheard, to the webhook, the terminal, the screen and the file; it
// is counted once.
func TestAnotherInstrumentIsToldAnew(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	r := newRig(t, 5, func(c *configs.Config) { c.Notify = []notify.Config{hook(url)} })
	r.soak()
	r.fault("link down", sim.DMM)
	first := next(t, got, "silent", "active")
	if first.Was != "normal" || !strings.Contains(first.Sentence, "is disconnected") && !strings.Contains(first.Sentence, "does not answer") {
		t.Errorf("first told: %+v", first)
	}
	a, _ := alarm(r.Snapshot(), "silent", five)
	r.act(capture.Act{Verb: capture.ActHeard, Subject: a.Alarm})

	r.fault("swap links", sim.DMM, sim.DMM2)
	second := next(t, got, "silent", "active")
	if second.Was != "heard" || second.Key == first.Key || !strings.Contains(second.Sentence, "00123458 is there") || !strings.Contains(second.Sentence, "00123457") {
		t.Errorf("then told: %+v", second)
	}
	s := r.until("the alarm says so, unheard", func(s live.Snapshot) bool {
		b, ok := alarm(s, "silent", five)
		return ok && b.Alarm == a.Alarm && b.To == capture.Active && b.Say == second.Sentence
	})
	if j, _ := s.Job(jobID); len(j.Past) != 0 {
		t.Errorf("it ended in between: %+v", j.Past)
	}
	r.untilScreen("both names", "/alarms", `is another instrument than was expected .*00123458 is there.*00123457.* told [0-9:]+, not heard`)
	for name, want := range map[string]string{"steadyrail_alarm_active": "1", "steadyrail_alarms_total": "1"} {
		if v := r.metric(name, `rule="silent +5 V logic"`); v != want {
			t.Errorf("%s is %q", name, v)
		}
	}

	r.fault("swap links", sim.DMM, sim.DMM2)
	if m := next(t, got, "silent", "returned"); m.Was != "active" {
		t.Errorf("at last told: %+v", m)
	}
	r.stop()
	for say := range map[string]bool{first.Sentence: true, second.Sentence: true} {
		if strings.Count(r.out.String(), say) != 1 {
			t.Errorf("the terminal does not say once: %s\n%s", say, r.out)
		}
	}
	for len(got) > 0 { // no third notice while it was there
		if m := <-got; m.Rail == five && m.Kind == "silent" {
			t.Errorf("told besides: %+v", m)
		}
	}
	letters := ""
	for _, tr := range r.read(jobID).transitions { // judged again, it comes out the same
		if tr.Alarm == a.Alarm {
			letters += tr.To.Letter()
		}
	}
	if letters != "BCBD" {
		t.Errorf("on record %s", letters)
	}
}
