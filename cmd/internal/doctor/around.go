package doctor

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// clock tells whether a time server keeps the clock that stamps the record.
func (b Bench) clock(context.Context) []Finding {
	const looked = "clock"
	now := b.Now().Format("2006-01-02 15:04:05 -07:00")
	switch yes, known := b.Clock(); {
	case !known:
		return one(looked, Note, now+"; whether a time server keeps it is not known here", "")
	case !yes:
		return one(looked, Attend, now+", not kept by a time server", "switch network time on, or compare it by hand before a job: stamps of a record cannot be set right later")
	}
	return one(looked, Fine, now+", kept by a time server", "")
}

// patience is how long a receiver may take to be there.
const patience = 3 * time.Second

// notifiers tells whether those who carry alarms are there, and how the daemon
// fared with them.
func (b Bench) notifiers(ctx context.Context) []Finding {
	if b.Config == nil {
		return nil
	}
	if len(b.Config.Notify) == 0 {
		return one("notifiers", Note, "the configuration has none: alarms show on the screens alone", "")
	}
	failing := b.failing(ctx)
	var out []Finding
	for _, c := range b.Config.Notify {
		looked, name := "notifier", c.Label()
		ctx, cancel := context.WithTimeout(ctx, patience)
		err := c.Reach(ctx)
		cancel()
		switch why := failing[name]; {
		case err != nil:
			out = append(out, Finding{looked, strings.TrimPrefix(err.Error(), "reach "), "start what receives it, or mend its address", Attend})
		case why != "":
			out = append(out, Finding{looked, name + " is there, and the daemon failed with it: " + why, fmt.Sprintf("steadyrail notifiers test %q", name), Attend})
		default:
			out = append(out, Finding{looked, name + " is there", "", Fine})
		}
	}
	return out
}

// failing is what the daemon says of its notifiers that fail, by name.
func (b Bench) failing(ctx context.Context) map[string]string {
	out := map[string]string{}
	if b.Daemon == nil {
		return out
	}
	var answer struct {
		Notifiers []struct {
			Name    string `json:"name"`
			Up      *bool  `json:"up"`
			Problem string `json:"problem"`
		} `json:"notifiers"`
	}
	if _, text, err := b.Daemon.Get(ctx, "/api/v1/notifiers"); err != nil || json.Unmarshal([]byte(text), &answer) != nil {
		return out
	}
	for _, n := range answer.Notifiers {
		if n.Up != nil && !*n.Up {
			out[n.Name] = n.Problem
		}
	}
	return out
}

// sleep tells whether a soak can keep this computer awake.
func (b Bench) sleep(context.Context) []Finding {
	const looked = "sleep"
	release, err := b.Inhibit("steadyrail doctor tries whether it can")
	if err != nil {
		return one(looked, Attend, "a soak cannot keep this computer awake: "+err.Error(), "switch its sleep off by hand before a soak")
	}
	release()
	return one(looked, Fine, "a soak can keep this computer awake", "")
}
